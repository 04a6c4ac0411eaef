//! How people write what the language writes otherwise: one table, from other words, signs and orders to ours.
//!
//! Promises: a row is only ever offered where the line reads on with it; nothing in a text in quotes is touched. Must
//! not be here: how a row is tried (see `mend`), slips of the hand, which the nearest known word mends.

use regex::Regex;
use std::sync::LazyLock;

/// One row.
pub(crate) struct NearMiss {
    /// What stands there; capitals count where the row does not say otherwise.
    pub pattern: Regex,
    /// What should, with `$1` for what the pattern's groups hold; `None` where only the writer can know.
    pub instead: Option<&'static str>,
    /// What is wrong, in a sentence; empty where what was expected says it best.
    pub why: &'static str,
}

const LIST: &str = "the items of a list stand with commas between them";
const POINT: &str = "a decimal number has a point";
const VOLTS: &str = "a voltage for each cell is written with `V per cell`";
const UNIT: &str = "this unit has another spelling";
const DIGITS: &str = "the digits of a number stand together";
const COMMENT: &str = "a comment begins with `#`";
const QUOTES: &str = "a text stands between straight double quotes";
const ORDER: &str = "the words of this statement stand in another order";
const STICKS: &str = "sticks are named by what they do";
const STOP: &str = "what motors do while armed at zero throttle is said by `at zero throttle`";
const ARM: &str = "a function is put on a switch with `bind`";

/// What stands at the end of a replacement for every whole number from the first group to the second.
pub(crate) const RANGE: &str = "$range";

/// Patterns, replacements, reasons. Earlier rows win.
const ROWS: &[(&str, Option<&str>, &str)] = &[
    // What only the writer can know.
    (
        r"(?i)^bind \S+ (?:to |on )?(?:switch )?(aux ?\d*)\b",
        None,
        "`aux` names no switch: a function is bound to a switch by its own name, such as `switch B`",
    ),
    (
        r"\bto (?:switch )?(?:channel|ch|chan) ?\d+",
        None,
        "a function is bound to a switch by its name, such as `switch B`; which channel that is on is said by `switch B on channel …` or found by `find switch B`",
    ),
    (
        r"\bswitch \S+ (?:is |at |in )?(?:positions? )?(?i:high|low|up|down|mid|middle|centre|center|on|off)$",
        None,
        "a position is a number, counted from 0, where the switch rests at power-up: `position 2`",
    ),
    (
        r"^bind .*\bswitch \S+ ((?:at |above |below |over |under |from |between |[<>]=? ?)?\d{3,4}(?: ?us)?\b.*)$",
        None,
        "a function is bound to positions, counted from 0, and to no pulse widths: `position 2`; where each position is, `switch … rests at …` says or `find switch …` finds",
    ),
    (
        r"^bind .*\bswitch \S+ (?:positions? )?((?:not|except|all|any|every|other|outside)\b.*)$",
        None,
        "a function is on in exactly the positions that are named, each by its number: `positions 0, 1`",
    ),
    (
        r"\b(?:at|step|most|add|after|within) ([a-z][a-z-]* ?[+*/] ?\d\S*)",
        None,
        "the language reckons nothing: write the value, or give it a parameter of its own",
    ),
    (
        r"\b(?:within|after|least|warn at|land at) (\d[\d.]*(?: ?[a-zA-Z]+)? ?(?:-|–|—|to) ?\d[\d.]*)",
        None,
        "one value stands here, and no range",
    ),
    (
        r"^(restart|reboot|reset)\b",
        None,
        "no statement restarts by itself: `keep` stores and restarts the board, and `power cycle` starts speed controllers anew",
    ),
    // Texts and comments.
    (r#"[“”„«]([^“”„«»"]*)[“”»]"#, Some(r#""$1""#), QUOTES),
    (r"[‘’`]([^‘’`]*)[‘’`]", Some(r#""$1""#), QUOTES),
    (r"'([^']*)'", Some(r#""$1""#), "a text stands between double quotes"),
    (r" ?; ?([a-z])", Some("\n$1"), "one statement a line"),
    (r"(?://|/\*|--+)", Some("#"), COMMENT),
    (r"[;.!]+$", Some(""), "nothing stands at the end of a statement but the end of the line"),
    // Lists and ranges.
    (
        r" ?; ?(\d|at |for |in |then |until |step |land |warn )",
        Some(", $1"),
        "clauses stand with commas between them, or without",
    ),
    (r" ?[/|&+] ?", Some(", "), LIST),
    (r";+", Some("#"), COMMENT),
    (r"\bposition (\d+),? ?(?:or|and|&|/|\+) ?(\d+)", Some("positions $1, $2"), LIST),
    (
        r"\bpositions? (\d+) ?(?:-|–|—|\.\.\.?|…|\bto\b|\bthrough\b) ?(\d+)",
        Some("positions $range"),
        "a list names each of its items, `0, 1`, and no range",
    ),
    (r",? (?:or|and|plus) ", Some(", "), LIST),
    (r"\bpositions? ?[(\[{]([^)\]}]*)[)\]}]", Some("positions $1"), LIST),
    (
        r"\brests at (\d{3,4})(?: ?us)? ?(?:-|–|—|to|\.\.\.?|…) ?(\d{3,4})",
        Some("rests at $1, $2"),
        "rest pulses are listed, one for each position",
    ),
    (
        r"^(idle start at \d{3,4}(?: ?us)?) ?(?:-|–|—|to|\.\.\.?|…|until|up to) ?(\d{3,4}(?: ?us)?) (.*)$",
        Some("$1 $3, at most $2"),
        "a search has its end in a clause of its own, `at most`",
    ),
    (r"^bind ([\w-]+)(?:,| and| &) ?([\w-]+) ((?:to|on) .*)$", Some("bind $1 $3\nbind $2 $3"), "one function a line"),
    (r"^find switch(?:es)? (\w+)(?:,| and| &) ?(\w+)$", Some("find switch $1\nfind switch $2"), "one switch a line"),
    // Numbers and units.
    (r"\b(\d{1,3})[ ,'](\d{3})( ?(?i:us|µs|hz|rpm)\b)", Some("$1$2$3"), DIGITS),
    (r"\b((?:at|most|step|add) \d)[ ,'](\d{3})\b", Some("$1$2"), DIGITS),
    (
        r"(?i)\b(warn|land)(?:ing)?(?: at| below| under)? (\d+(?:\.\d+)?) ?v(?:olts?)?(?: ?/ ?cell| per cell| cell)?( |,|$)",
        Some("$1 at $2 V per cell$3"),
        "",
    ),
    (r"\bwarning\b", Some("warn"), ""),
    (r"\blanding\b", Some("land"), ""),
    (
        r"(?i)\b(warn at|land at|at least) (\d+),(\d+) ?v?(?: ?/ ?cell| per cell)?(?: |$)",
        Some("$1 $2.$3 V per cell "),
        POINT,
    ),
    (r"(\d),(\d+)", Some("$1.$2"), POINT),
    (r"( to -?\d[\d.]*) ?volts?\b", Some("$1 V"), UNIT),
    (r"(^| )\.(\d)", Some("${1}0.$2"), "a number has a digit before its point"),
    (
        r"(?i)(\d) ?v(?:olts?)?(?: ?/ ?c(?:ells?)?| per cells| (?:a|each|every|per|pro)? ?cells?|pc)?\b",
        Some("$1 V per cell"),
        VOLTS,
    ),
    (r"(?i)(\d) ?mv ?/ ?c(?:ells?)?\b", Some("$1 mV per cell"), VOLTS),
    (r"(\d) per cell", Some("$1 V per cell"), VOLTS),
    (r"(?i)(\d) ?(?:°|º|degrees?|degs?)", Some("$1 deg"), UNIT),
    (r"(?i)(\d) ?(?:khz|kilohertz|k)\b", Some("$1 kHz"), UNIT),
    (r"(?i)(\d) ?(?:hz|hertz)\b", Some("$1 Hz"), UNIT),
    (r"(?i)(\d) ?(?:ms|msecs?|millis(?:ec)?|milliseconds?)\b", Some("$1 ms"), UNIT),
    (r"(?i)(\d) ?(?:us|usecs?|micros|microseconds?)\b", Some("$1 us"), UNIT),
    (r"(?i)(\d) ?(?:s|secs?|seconds?)\b", Some("$1 s"), UNIT),
    (r"(?i)(\d) ?(?:min|mins|minutes?)\b", Some("$1 min"), UNIT),
    (r"(?i)(\d) ?(?:percent|per cent|pct)\b", Some("$1 %"), UNIT),
    (r"(?i)^battery (\d+) ?-?s\b", Some("battery $1 cells"), "the cells of a pack are counted as `2 cells`"),
    (
        r"^battery (lipo|lihv|liion) (\d+ cells?)",
        Some("battery $2 $1"),
        "the count of the cells comes first: `battery 2 cells lipo`",
    ),
    (
        r"(?i)^battery (lipo|lihv|liion),? (\d+) ?-?(?:s|cells?)\b",
        Some("battery $2 cells $1"),
        "the count of the cells comes first: `battery 2 cells lipo`",
    ),
    (r"^battery cells? (\d+)", Some("battery $1 cells"), "the cells of a pack are counted as `2 cells`"),
    (r"^require battery (?:is |of |with )?(\d)", Some("require battery at least $1"), ""),
    (
        r"^failsafe (?:is |at |of )?(\d)",
        Some("failsafe cut motors after $1"),
        "a failsafe says what it does: `failsafe cut motors after 500 ms`",
    ),
    // Orders of words.
    (
        r"^require (.+?)(?:,| and) (?:require )?(props|antenna|battery|throttle|disarmed|level|switch)\b",
        Some("require $1\nrequire $2"),
        "one condition a line",
    ),
    (r"^require (?:no|without) props$", Some("require props off"), ""),
    (r"^require (?:low|zero|no|minimum) throttle$", Some("require throttle low"), ORDER),
    (r"^require (?:not armed|unarmed|not arming|no arming|arm(?:ing)? off|disarm)$", Some("require disarmed"), ""),
    (
        r"(?i)^require (?:no battery|(?:only )?usb(?: only| power)?|battery (?:is )?(?:removed|disconnected|unplugged|off))$",
        Some("require battery out"),
        "",
    ),
    (
        r"(?i)^require (?:the )?(?:vtx |video |transmitter )antennas?(?: is)?(?: on| fitted| attached| connected)?$",
        Some("require antenna on"),
        "",
    ),
    (r"^(?:remove|take off|unmount) (?:the |all )?(?:props|propellers)$", Some("require props off"), ""),
    (r"^require battery (?:is )?(?:connected|plugged in|plugged|on|fitted)$", Some("require battery in"), ""),
    (
        r"^(props off|battery (?:out|in|at least)|throttle low|antenna on|disarmed$|level within)",
        Some("require $1"),
        "a condition begins with `require`",
    ),
    (r"throttle (?:the )?motors (spin|rest)", Some("throttle $1"), ""),
    (
        r"throttle (?:(?:the )?motors? )?(?:stop|still|off|stopped|(?:no|not|never|don't|dont|do not) spin)$",
        Some("throttle rest"),
        "",
    ),
    (r"throttle (?:(?:the )?motors? )?(?:idle|turn|run|on)$", Some("throttle spin"), ""),
    (r"^motor[ -]?stop (?:is )?(?:on|yes|true|enabled|active)$", Some("at zero throttle rest"), STOP),
    (r"^motor[ -]?stop (?:is )?(?:off|no|false|disabled)$", Some("at zero throttle spin"), STOP),
    (r"^find switch (\S+?),? \(?(\d) ?-? ?pos(?:itions?)?\)?$", Some("find switch $1 with $2 positions"), ""),
    (r"^find switch (\S+?),? (?:with )?two pos(?:itions?)?$", Some("find switch $1 with 2 positions"), ""),
    (r"^find switch (\S+?),? (?:with )?three pos(?:itions?)?$", Some("find switch $1 with 3 positions"), ""),
    (
        r"^(switch \S+?),? \(?\d ?-? ?pos(?:itions?)?\)? on ",
        Some("$1 on "),
        "how many positions a switch has is told by its rest pulses",
    ),
    (r"\bwith positions? (\d+)", Some("with $1 positions"), ORDER),
    (
        r"^given (\S+) one of [A-Z]\w*(?:(?:,| or) ?[A-Z]\w*)* default ([A-Z]\w*)",
        Some("given $1 switch default $2"),
        "a parameter for a switch is declared with `switch`",
    ),
    (
        r" min(?:imum)? (\d+ ?\w*?),? max(?:imum)? (\d)",
        Some(" from $1 to $2"),
        "a range is written `from 1050 us to 1150 us`",
    ),
    (
        r"^given ([a-z]+) ([a-z]+) (default|from|switch|one of)",
        Some("given $1-$2 $3"),
        "words of one name are joined by a hyphen",
    ),
    (r"^(given \S+) ?[=:] ?", Some("$1 default "), ""),
    (
        r" (?:from|between|range) (\d+ ?[a-zA-Z]*?) ?(?:-|–|and|\.\.|to) ?(\d)",
        Some(" from $1 to $2"),
        "a range is written `from 1050 us to 1150 us`",
    ),
    (r"\b(?:at |in |on )?(positions? [\d, ]*\d) (?:of|on|at|in) (switch \S+)", Some("$2 $1"), ORDER),
    (r"^bind (switch \S+ positions? [\d, ]*\d) to (\S+)", Some("bind $2 to $1"), ORDER),
    (
        r"^failsafe (?:(?:disarm|cut|stop|off|motors|motor|the|drop|kill) )*(?:after|in|within) ([^,]*?\d ?\w*)(?: (?:cut|stop|motors|motor|off|the|disarm))*$",
        Some("failsafe cut motors after $1"),
        "what a failsafe does stands before its time: `failsafe cut motors after 500 ms`",
    ),
    (r"^failsafe (?:(?:disarm|cut|stop|off|motors?|the|drop|kill) )+", Some("failsafe cut motors "), ""),
    (r"^(arm|buzzer|self-level|lights) (?:on |to |at |is )*(switch )", Some("bind $1 to $2"), ARM),
    (
        r"^(switch \S+ positions? [\d, ]*\d) (?:is |to |does |for )?(arm|buzzer|self-level|lights)$",
        Some("bind $2 to $1"),
        ARM,
    ),
    (r"^idle (?:search|sweep) (?:from |at )?(\d)", Some("idle start at $1"), "a search begins with `idle start at`"),
    (
        r"(?i)^(?:min(?:imum)?[ -]throttle|motor idle|throttle idle|idle throttle)(?: at| to| is| =)? (\d)",
        Some("idle at $1"),
        "what armed motors get at zero throttle is the idle",
    ),
    (
        r" until (?:(?:all|every|each)(?: of)? )?(?:(?:the|\d|four|six|eight) )?(?:motors? )?(?:spins?|turns?|runs?|starts?|spinning|turning)\b",
        Some(" until all spin"),
        "",
    ),
    (r" (?:manually|by keys?)\b", Some(" by hand"), ""),
    (
        r"^idle (?:search )?(?:start(?:ing)? )?(?:from|at|start) (\S+(?: us)?) (step|until|at most|up|by)",
        Some("idle start at $1 $2"),
        "a search begins with `idle start at`",
    ),
    (r" (?:by|steps? of|steps) ", Some(" step "), ""),
    (r" (?:max|maximum|limit|up to|to at most|below) ", Some(" at most "), ""),
    (r" ?(?:≥|>=|=>|>) ?", Some(" at least "), ""),
    (r" ?(?:≤|<=|=<|<|±|\+/-|\+-) ?", Some(" within "), ""),
    (r" (?:above|over|min|minimum|more than) ", Some(" at least "), ""),
    // Words.
    (r"(?i)\bfail[ -]safe\b", Some("failsafe"), "`failsafe` is one word"),
    (r"(?i)^(?:battery cycle|power-?cycle|cycle power|power[ -]?cycle (?:the )?battery)$", Some("power cycle"), ""),
    (r"(?i)\b(?:quadcopter|quadrocopter|quad-x|x-quad)\b(?: x)?", Some("quad x"), ""),
    (r"(?i)^(?:version|language|syntax) ", Some("edition "), ""),
    (r"(?i)^edition one$", Some("edition 1"), "an edition is a whole number"),
    (r"(?i)^(?:assign|map|put|attach|link|connect|bound) ", Some("bind "), ""),
    (r"(?i)\bself[ _]?level(?:l?ing)?\b", Some("self-level"), "words of one name are joined by a hyphen"),
    (r"(?i)\bloop[ _]?rate\b", Some("loop-rate"), "words of one name are joined by a hyphen"),
    (r"(?i)\bd-?shot[ -]?(\d+)", Some("dshot$1"), "a motor signal is one word"),
    (r"(?i)\bone[ -]?shot(?:[ -]?125)?\b", Some("oneshot125"), "a motor signal is one word"),
    (r#"^edition "?[vV]?1(?:\.0)?"?$"#, Some("edition 1"), "an edition is a whole number"),
    (r"(?i)\bpropell?[eo]rs?\b", Some("props"), ""),
    (r"(?i)\b(?:uart|serial|usart)(?: port)? ?", Some("port "), ""),
    (r"(?i)\b(?:ch|chan|chn)\.? ?(\d)", Some("channel $1"), ""),
    (r" (?:times|tries|trials|runs|rounds)\b", Some(" starts"), ""),
    (r"(?i)\bcenter\b", Some("centre"), ""),
    (r"(?i)\bno (?:pulses?|signal|output|frames?)\b", Some("flagged"), ""),
    (r"\bon (?:failsafe|signal loss|radio loss|loss)\b", Some("on link loss"), ""),
    (r"^on (?:link|signal|radio) loss:?,? ((?:cut|stop|kill) .*)$", Some("failsafe $1"), ""),
    (r"^rx ", Some("receiver "), ""),
    (r"^receiver on port (\d+),? (\S+)$", Some("receiver $2 on port $1"), ORDER),
    (r"^channels? (?:order|map) (?:is )?", Some("channels "), ""),
    (r"(?i)^channels? aetr$", Some("channels roll, pitch, throttle, yaw"), STICKS),
    (r"(?i)^channels? taer$", Some("channels throttle, roll, pitch, yaw"), STICKS),
    (
        r"^channels:? (\w+) ?[=:] ?1,? (\w+) ?[=:] ?2,? (\w+) ?[=:] ?3,? (\w+) ?[=:] ?4$",
        Some("channels $1, $2, $3, $4"),
        "the sticks stand in the order of their channels",
    ),
    (r"(?i)\baileron\b", Some("roll"), STICKS),
    (r"(?i)\belevator\b", Some("pitch"), STICKS),
    (r"(?i)\brudder\b", Some("yaw"), STICKS),
    (r"^keep (?:all|it|everything|settings|changes|now)$", Some("keep"), "nothing stands behind `keep`: it stores all"),
    (r"(?i)^(?:save|store|write|commit)(?: all| settings)?$", Some("keep"), "what was set is stored with `keep`"),
    (r"(?i)^(?:wait|ask|prompt|confirm) ", Some("pause "), ""),
    (r"(?i)^(?:print|say|echo|message|info|tell|show) ", Some("note "), ""),
    (r"(?i)^(?:detect|locate|learn|discover|identify) ", Some("find "), ""),
    (r"(?i)^(?:check|verify|prove) ", Some("test "), ""),
    (r"(?i)^(?:ensure|assert|must|need|needs) ", Some("require "), ""),
    (r"(?i)^(?:include|import|load) ", Some("use "), ""),
    (r"(?i)^(?:name|title) ", Some("recipe "), ""),
    (r"(?i)^(?:param|parameter|let|var|define) ", Some("given "), ""),
    (r"(?i)^(?:frame|copter) ", Some("craft "), ""),
    (r"(?i)^(?:motors? order|reorder motors?)$", Some("order motors"), ORDER),
    (r"(?i)^test (?:the )?(?:arming|disarm|disarming|arm switch)$", Some("test arm"), ""),
    (r"(?i)^test (?:the )?(?:beeper|beep|beeps|alarm)$", Some("test buzzer"), ""),
    (r"(?i)^test (?:the )?(?:kill|cut-?off|motor cut|motor stop|motors off|stop)\b", Some("test cut"), ""),
    (r"(?i)^test (?:the )?(?:link|radio|signal) loss\b", Some("test failsafe"), ""),
    (r"(?i)^(?:motors? test)$", Some("test motors"), ORDER),
    (r"(?i)\b(?:hexacopter|hexa|hexcopter)\b(?: x)?", Some("hex x"), ""),
    (r"(?i)\b(?:octocopter|octa)\b(?: x)?", Some("octo x"), ""),
    (r"(?i)\bprops? (?:in|inwards?)\b", Some("turning inward"), ""),
    (r"(?i)\bprops? (?:out|outwards?)\b", Some("turning outward"), ""),
    (r"\bturning (in|out)s?$", Some("turning ${1}ward"), ""),
    (r"^craft (x|plus) (quad|hex|octo)\b", Some("craft $2 $1"), ORDER),
    // Words and signs too many.
    (r",? (?:max|maximum|or less|please)$", Some(""), ""),
    (r" (?:the|a|an|is|are|be|been|please|must|should|of|for|switch|at|in|on|to|with|by|using|as) ", Some(" "), ""),
    (r" ?[=:]+ ?", Some(" "), "values follow their word without `=` or `:`"),
    (r"[()\[\]{}]", Some(""), "the language has no brackets"),
];

/// The rows, ready.
pub(crate) static NEAR_MISSES: LazyLock<Vec<NearMiss>> = LazyLock::new(|| {
    let row = |(pattern, instead, why): &(&str, Option<&'static str>, &'static str)| {
        // A pattern that is none is found by the test below.
        Regex::new(pattern).ok().map(|pattern| NearMiss { pattern, instead: *instead, why })
    };
    ROWS.iter().filter_map(row).collect()
});

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_row_is_a_pattern_that_some_phrasing_has() {
        assert_eq!(NEAR_MISSES.len(), ROWS.len());
        let phrasings = include_str!("../../tests/language/mistakes/phrasings.txt");
        let written: Vec<&str> = phrasings.lines().filter_map(|line| line.split(" =>").next()).collect();
        for row in NEAR_MISSES.iter() {
            assert!(written.iter().any(|line| row.pattern.is_match(line)), "{}", row.pattern);
        }
    }
}
