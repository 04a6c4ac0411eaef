//! The craft: its motors where they sit, seen from above, and how it stands, as on a spirit level.

use super::canvas::{Canvas, Ink};
use super::labels;
use crate::report::gate;
use crate::seam::page::{Motor, Page};

/// The bubble reaches the end of its tube at this lean, tenths of a degree.
const FULL: i32 = 150;
/// Columns up to the end of the pulses, where motors stand in a list.
const LISTED: u16 = 21;

/// Draws motors and lean; gives the rows that they take.
pub(super) fn craft(canvas: &mut Canvas<'_>, page: &Page, roomy: bool) -> u16 {
    canvas.put(0, 0, if page.motors.is_empty() { "motors not heard" } else { "motors" }, Ink::Quiet);
    let gap = u16::from(roomy);
    let rows = if let Some(corners) = corners(&page.motors) {
        canvas.put(7, 0, "seen from above", Ink::Quiet);
        quad(canvas, 1 + gap, corners, gap)
    } else {
        list(canvas, gap, &page.motors)
    };
    let y = rows + 1;
    lean(canvas, y, page, gap);
    y + 3 + gap
}

/// Front left, front right, rear right, rear left, where the motors sit there and nowhere else.
fn corners(motors: &[Motor]) -> Option<[&Motor; 4]> {
    let of = |name: &str| motors.iter().find(|motor| motor.name == name);
    let all = [of("front left")?, of("front right")?, of("rear right")?, of("rear left")?];
    (motors.len() == 4).then_some(all)
}

fn quad(
    canvas: &mut Canvas<'_>,
    y: u16,
    [front_left, front_right, rear_right, rear_left]: [&Motor; 4],
    gap: u16,
) -> u16 {
    let rear = y + 4 + 2 * gap;
    for (motor, y, right) in
        [(front_left, y, false), (front_right, y, true), (rear_left, rear, false), (rear_right, rear, true)]
    {
        for (row, (text, ink)) in (y..).zip(lines(motor)) {
            if right {
                canvas.put_right(canvas.width(), row, &text, ink);
            } else {
                canvas.put(0, row, &text, ink);
            }
        }
    }
    rear + 3
}

fn lines(motor: &Motor) -> [(String, Ink); 3] {
    let ink = if motor.turning { Ink::Alarm } else { Ink::Strong };
    [(gate::line(&motor.name).into_owned(), Ink::Quiet), (pulse(motor), ink), (speed(motor), Ink::Text)]
}

fn pulse(motor: &Motor) -> String {
    match motor.pulse {
        Some(0) => "no pulse".to_owned(),
        Some(pulse) => format!("{pulse} us"),
        None => "- us".to_owned(),
    }
}

fn speed(motor: &Motor) -> String {
    match motor.rpm {
        Some(rpm) => format!("{rpm} rpm"),
        None if motor.turning => "driven".to_owned(),
        None => String::new(),
    }
}

/// Motors one below the other: places that are no four corners.
fn list(canvas: &mut Canvas<'_>, gap: u16, motors: &[Motor]) -> u16 {
    if !motors.is_empty() {
        canvas.put_right(LISTED, 0, "us", Ink::Quiet);
        canvas.put_right(canvas.width(), 0, "rpm", Ink::Quiet);
    }
    let mut row = 1 + gap;
    for motor in motors {
        let ink = if motor.turning { Ink::Alarm } else { Ink::Strong };
        canvas.part(0, row, LISTED - 5, 1).put(0, 0, &gate::line(&motor.name), Ink::Quiet);
        let pulse = motor.pulse.map_or_else(|| "-".to_owned(), |pulse| pulse.to_string());
        canvas.put_right(LISTED, row, &pulse, ink);
        let speed = motor.rpm.map_or_else(|| speed(motor), |rpm| rpm.to_string());
        canvas.put_right(canvas.width(), row, &speed, Ink::Text);
        row += 1;
    }
    row
}

fn lean(canvas: &mut Canvas<'_>, y: u16, page: &Page, gap: u16) {
    let Some((roll, pitch)) = page.attitude else {
        canvas.put(0, y, "attitude not heard", Ink::Text);
        return;
    };
    // A bubble goes where it is highest: to the left when the right side is down.
    let tube = if gap > 0 { 21 } else { 9 };
    for (row, bubble, words) in [(y, -roll, labels::roll(roll)), (y + 1 + gap, pitch, labels::pitch(pitch))] {
        let behind = canvas.put(0, row, &level(bubble, tube), Ink::Text);
        canvas.put(behind + 1, row, &words, Ink::Strong);
    }
}

/// A tube with its bubble, so many columns wide.
fn level(lean: i32, width: i32) -> String {
    let (inner, most) = (width - 2, (width - 3) / 2);
    let away = (2 * lean * most + lean.signum() * FULL) / (2 * FULL);
    let at = away.clamp(-most, most) + inner / 2;
    let tube: String = (0..inner)
        .map(|column| match column {
            _ if column == at => 'O',
            _ if column == inner / 2 => '|',
            _ => '-',
        })
        .collect();
    format!("({tube})")
}
