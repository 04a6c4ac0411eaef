//! Short recipes for the stand, each with what its tests need and nothing more.

macro_rules! recipe {
    ($body:literal) => {
        concat!(
            "recipe \"Wren 95, stand\"\nedition 1\ncraft quad x turning inward\nboard \"Finch\"\n",
            "require props off\nrequire throttle low\nchannels roll, pitch, throttle, yaw\n",
            "switch B on channel 6 rests at 1000, 1500, 2000 on link loss flagged\n",
            "bind arm to switch B position 2\nat zero throttle spin\nidle at 1150\n",
            $body
        )
    };
}

/// Two starts of all motors by the switch.
pub const START: &str = recipe!("keep\nrequire battery in\ntest idle in 2 starts\n");
/// Three cuts.
pub const CUT: &str = recipe!("keep\nrequire battery in\ntest cut within 250 ms\n");
/// The radio off at idle, and on again.
pub const FAILSAFE: &str =
    recipe!("failsafe cut motors after 500 ms\nkeep\nrequire battery in\ntest failsafe within 3 s\n");
/// Nothing but settings and the proof of the arm switch, battery out.
pub const ARM_ONLY: &str = recipe!("require battery out\nkeep\ntest arm\n");
/// One motor at a time, by command.
pub const SIGNAL: &str = recipe!("signal dshot300 at 4 kHz\nkeep\npower cycle\ntest idle in 2 starts\n");
/// An idle search.
pub const IDLE: &str = concat!(
    "recipe \"Wren 95, stand\"\nedition 1\ncraft quad x turning inward\nboard \"Finch\"\n",
    "require props off\nrequire throttle low\nchannels roll, pitch, throttle, yaw\n",
    "switch B on channel 6 rests at 1000, 1500, 2000 on link loss flagged\n",
    "bind arm to switch B position 2\nat zero throttle spin\nkeep\n",
    "require battery in\nrequire level within 2 deg\nidle start at 1075 step 25 until all spin\nkeep\n",
);
