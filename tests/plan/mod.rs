//! Tests of `src/plan/`.

mod abilities;
mod batches;
mod battery;
pub mod checks;
mod explained;
mod fingerprint;
mod motors;
mod orders;
mod refusals;
mod replan;
mod restores;
mod satisfied;
mod shown;
mod sticks;
mod switches;
mod trials;

use quadjig::board::radio_card::RadioCard;
use quadjig::board::sheet::{Settings, Sheet};
use quadjig::board::shipped;
use quadjig::board::signals::Identity;
use quadjig::board::value::{Number, SettingName};
use quadjig::language::read;
use quadjig::language::recipe::Recipe;
use quadjig::language::sources::Memory;
use quadjig::plan::compile::compile;
use quadjig::plan::inputs::{Inputs, Progress};
use quadjig::plan::problem::PlanError;
use quadjig::plan::step::{Action, Plan, Step, Write};
use quadjig::plan::titles;
use quadjig::record::CraftRecord;
use std::path::Path;

/// The header that every recipe of these tests begins with.
pub const HEAD: &str = "recipe \"Test\"\nedition 1\ncraft quad x\nboard \"Finch\"\nboard \"Finch R\"\n";

/// What a Finch fresh from its maker has, as far as these tests look.
const FACTORY: &[(&str, i64)] = &[
    ("IDLE_US", 1050),
    ("SPIN_AT_ZERO", 0),
    ("MOTOR_SIGNAL", 0),
    ("LOOP_HZ", 2000),
    ("RX_PROTOCOL", 0),
    ("RX_PORT", 2),
    ("ROLL_CHANNEL", 1),
    ("PITCH_CHANNEL", 2),
    ("THR_CHANNEL", 3),
    ("YAW_CHANNEL", 4),
    ("LOSS_ACTION", 0),
    ("LOSS_WAIT_MS", 1000),
    ("CELLS", 1),
    ("CELL_KIND", 0),
    ("WARN_CELL_MV", 3500),
    ("LAND_CELL_MV", 3300),
    ("BOARD_TURN", 0),
    ("ROTOR_TRIM", 0),
    ("LIGHT_LEVEL", 40),
    ("BOOT_TONE", 1),
    ("MOTOR1_OUT", 1),
    ("MOTOR2_OUT", 2),
    ("MOTOR3_OUT", 3),
    ("MOTOR4_OUT", 4),
    ("OUT1_REVERSED", 0),
    ("OUT2_REVERSED", 0),
    ("OUT3_REVERSED", 0),
    ("OUT4_REVERSED", 0),
];
const BANDS: &[(&str, [i64; 3])] =
    &[("ARM", [5, 1698, 2098]), ("BUZZ", [0, 850, 850]), ("SELFLVL", [0, 850, 850]), ("LIGHT", [0, 850, 850])];

pub fn name(text: &str) -> SettingName {
    SettingName::new(text).unwrap()
}

/// A bench as a test wants it; everything can be changed before [`Bench::plan`].
#[derive(Clone)]
pub struct Bench {
    pub sheet: Sheet,
    pub card: RadioCard,
    pub record: CraftRecord,
    pub identity: Identity,
    pub settings: Settings,
    pub progress: Progress,
    /// A statement at the bench prompt.
    pub by_hand: bool,
}

impl Bench {
    /// A factory Finch, the shipped radio card, an empty record.
    pub fn finch() -> Self {
        let mut bench = Self::of("Finch");
        for (prefix, ends) in BANDS {
            for (part, number) in ["CHANNEL", "FROM", "TO"].iter().zip(ends) {
                bench.set(&format!("{prefix}_{part}"), *number);
            }
        }
        bench
    }

    /// The same with rows; arm stands in the first.
    pub fn finch_r() -> Self {
        let mut bench = Self::of("Finch R");
        for row in 1..=8 {
            let numbers = if row == 1 { [1, 5, 1698, 2098] } else { [0, 0, 850, 850] };
            for (part, number) in ["FUNC", "CHANNEL", "FROM", "TO"].iter().zip(numbers) {
                bench.set(&format!("ROW{row}_{part}"), number);
            }
        }
        bench
    }

    fn of(board: &str) -> Self {
        let mut settings: Settings =
            FACTORY.iter().map(|(text, number)| (name(text), Number::Whole(*number))).collect();
        for (text, number) in [("VOLT_RATIO", 10.9), ("LEVEL_ROLL", 0.0), ("LEVEL_PITCH", 0.0)] {
            settings.insert(name(text), Number::Real(number));
        }
        Self {
            sheet: shipped::sheet(board).unwrap().unwrap(),
            card: shipped::radio_card("bench").unwrap().unwrap(),
            record: CraftRecord::default(),
            identity: Identity {
                id: format!("{}00000001", Identity::VIRTUAL_PREFIX),
                firmware: "2.4.1".to_owned(),
                kind: board.to_owned(),
                name: None,
            },
            settings,
            progress: Progress::start(),
            by_hand: false,
        }
    }

    pub fn set(&mut self, setting: &str, number: i64) -> &mut Self {
        self.settings.insert(name(setting), Number::Whole(number));
        self
    }

    pub fn compile(&self, recipe: &Recipe) -> Result<Plan, Vec<PlanError>> {
        let Self { sheet, card, record, identity, settings, progress, by_hand } = self;
        let (progress, by_hand) = (progress.clone(), *by_hand);
        compile(&Inputs { recipe, sheet, card, record, identity, settings, progress, by_hand })
    }

    /// The plan of statements behind [`HEAD`].
    pub fn plan(&self, statements: &str) -> Plan {
        self.compile(&recipe(statements)).unwrap_or_else(|errors| {
            panic!("{}", errors.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))
        })
    }

    /// The refusals of statements behind [`HEAD`]: `code line:column`.
    pub fn refused(&self, statements: &str) -> Vec<String> {
        let errors = self.compile(&recipe(statements)).expect_err("a refusal");
        errors.iter().map(|e| format!("{} {}:{}", e.problem.code(), e.at.line, e.at.column)).collect()
    }

    /// The board after a plan's writes: what its last value of each setting is.
    pub fn carry_out(&mut self, plan: &Plan) {
        for write in writes(plan) {
            self.settings.insert(write.name, write.to);
        }
    }
}

/// Statements behind [`HEAD`], read without a finding of severity error.
pub fn recipe(statements: &str) -> Recipe {
    text(&format!("{HEAD}{statements}\n"))
}

pub fn text(text: &str) -> Recipe {
    let reading = read(&Memory::of([("test.jig", text)]), Path::new("test.jig"), &[], &[]);
    assert!(!reading.has_errors(), "{:#?}", reading.findings);
    reading.recipe.unwrap()
}

/// Every single write in order.
pub fn writes(plan: &Plan) -> Vec<Write> {
    let all = plan.steps.iter().filter_map(|step| match &step.act {
        Action::Write(writes) => Some(writes.clone()),
        _ => None,
    });
    all.flatten().collect()
}

/// Every single write in order, as `NAME=number`.
pub fn written(plan: &Plan) -> Vec<String> {
    writes(plan).iter().map(|write| format!("{}={}", write.name, write.to)).collect()
}

/// Every step as `effect: title`.
pub fn told(plan: &Plan) -> Vec<String> {
    plan.steps.iter().map(|step| format!("{}: {}", titles::effect(step.effect), titles::title(&step.act))).collect()
}

/// The step of an act.
pub fn step(plan: &Plan, is: impl Fn(&Action) -> bool) -> Step {
    plan.steps.iter().find(|step| is(&step.act)).expect("the step").clone()
}

pub fn guards(step: &Step) -> String {
    step.guards.iter().map(titles::guard).collect::<Vec<_>>().join(", ")
}
