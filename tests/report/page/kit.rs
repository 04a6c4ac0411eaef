//! Pages to be drawn: the Wren 95 on the bench, and what may become of it.

use quadjig::board::radio_card::RadioCard;
use quadjig::board::sheet::{Corner, Sheet};
use quadjig::board::shipped;
use quadjig::board::signals::{Identity, LinkEvent};
use quadjig::board::value::{Number, SettingName};
use quadjig::interlock::Interlock;
use quadjig::measure::time::Time;
use quadjig::seam::page::{BoardText, Page, Title};
use std::time::Duration;

/// The moment of every page.
pub const NOW: Time = Time(60_000_000);

/// What is on the bench.
#[derive(Clone)]
pub struct Bench {
    pub armed: bool,
    pub outputs: [u16; 8],
    pub rpm: Option<[i32; 4]>,
    pub channels: u8,
    pub switch: u16,
    pub roll: f32,
    pub pitch: f32,
    pub millivolts: u16,
    pub sheet: Option<Sheet>,
    pub card: Option<RadioCard>,
    pub lost: Option<Time>,
}

/// At rest, battery in, eight channels, everything known.
pub fn bench() -> Bench {
    Bench {
        armed: false,
        outputs: [1000, 1000, 1000, 1000, 0, 0, 0, 0],
        rpm: Some([0; 4]),
        channels: 8,
        switch: 1000,
        roll: 0.3,
        pitch: -0.2,
        millivolts: 7920,
        sheet: Some(shipped::sheet("finch").unwrap().unwrap()),
        card: Some(shipped::radio_card("bench").unwrap().unwrap()),
        lost: None,
    }
}

/// The same, armed by switch B in position 2, motors idling.
pub fn armed() -> Bench {
    let outputs = [1150, 1150, 1150, 1150, 0, 0, 0, 0];
    Bench { armed: true, switch: 2000, outputs, rpm: Some([6120, 6050, 5990, 6075]), millivolts: 7810, ..bench() }
}

/// A sheet of a frame with more motors.
pub fn frame(corners: &[&str]) -> Sheet {
    let corners = corners.iter().map(|name| Corner((*name).to_owned())).collect();
    Sheet { corners, ..bench().sheet.unwrap() }
}

impl Bench {
    /// The page of this bench.
    pub fn page(&self) -> Page {
        let mut interlock = Interlock::default();
        for (name, value) in [
            ("ROLL_CHANNEL", 1),
            ("PITCH_CHANNEL", 2),
            ("THR_CHANNEL", 3),
            ("YAW_CHANNEL", 4),
            ("ARM_CHANNEL", 6),
            ("ARM_FROM", 1754),
            ("ARM_TO", 2146),
            ("BUZZ_CHANNEL", 8),
            ("BUZZ_FROM", 1754),
            ("BUZZ_TO", 2146),
            ("SELFLVL_CHANNEL", 7),
            ("SELFLVL_FROM", 850),
            ("SELFLVL_TO", 1250),
            ("LIGHT_CHANNEL", 12),
            ("LIGHT_FROM", 1754),
            ("LIGHT_TO", 2146),
            ("CELLS", 2),
        ] {
            let (name, value) = (SettingName::new(name).unwrap(), Number::Whole(value));
            interlock.hear(&LinkEvent::Setting { name, value, index: None });
        }
        let mut pulses = [None; 18];
        for (at, pulse) in (0..usize::from(self.channels)).zip([1500, 1502, 988, 1499, 1500, self.switch, 1000, 1000]) {
            pulses[at] = Some(pulse);
        }
        for pulse in pulses.iter_mut().take(usize::from(self.channels)).skip(8) {
            *pulse = Some(1500);
        }
        let identity = Identity {
            id: "766972740000002a".to_owned(),
            firmware: "2.4.1".to_owned(),
            kind: "Finch".to_owned(),
            name: None,
        };
        let mut heard = vec![
            LinkEvent::Identity(identity),
            LinkEvent::Alive { vehicle: 1, armed: self.armed },
            LinkEvent::Channels { count: self.channels, pulses, board_time: None },
            LinkEvent::Outputs { pulses: self.outputs, board_time: None },
            LinkEvent::Attitude {
                roll: self.roll.to_radians(),
                pitch: self.pitch.to_radians(),
                yaw: 0.0,
                board_time: None,
            },
            LinkEvent::Power {
                millivolts: Some(self.millivolts),
                centiamps: Some(21),
                receiver: Some(self.channels > 0),
            },
        ];
        heard.extend(self.rpm.map(|rpm| LinkEvent::Speeds { first: 0, rpm, count: 4 }));
        let at = self.lost.unwrap_or(NOW - Duration::from_millis(40));
        interlock.wakes(at, at);
        for heard in &heard {
            interlock.hear(heard);
        }
        if self.lost.is_some() {
            interlock.left();
        }
        let title = Title { craft: Some("Wren 95".to_owned()), port: "/dev/ttyACM0".to_owned() };
        let mut page =
            Page::build(interlock.signals(), NOW, (self.lost, None), &title, self.sheet.as_ref(), self.card.as_ref());
        page.loss = Some(4);
        page.is_virtual = false;
        let ago = Duration::from_millis(3200);
        page.said = vec![BoardText { text: "Throttle is low".to_owned(), ago, times: 2 }];
        page
    }
}
