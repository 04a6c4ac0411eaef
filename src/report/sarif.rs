//! Findings in the interchange format of analysis tools: SARIF 2.1.0 (OASIS).
//!
//! Promises: the same findings as JSON, each with its rule, level, place and replacements. Must not be here: what is
//! wrong, exit codes.

use super::findings::{FindingJson, FixJson};
use crate::language::explain::about;
use crate::language::finding::Severity;
use crate::language::span::Place;
use serde_json::{Value, json};
use std::collections::BTreeSet;

/// Where the format's schema stands, as its section 3.13.3 asks for.
const SCHEMA: &str = "https://docs.oasis-open.org/sarif/sarif/v2.1.0/errata01/os/schemas/sarif-schema-2.1.0.json";

/// One run of `check` as a log file (section 3.13).
#[must_use]
pub fn log(findings: &[FindingJson]) -> Value {
    let codes: BTreeSet<&str> = findings.iter().map(|finding| finding.code).collect();
    let rules: Vec<Value> = codes
        .into_iter()
        .map(|code| json!({ "id": code, "shortDescription": { "text": about(code).unwrap_or(code) } }))
        .collect();
    json!({
        "$schema": SCHEMA,
        "version": "2.1.0",
        "runs": [{
            "tool": { "driver": { "name": "quadjig", "version": env!("CARGO_PKG_VERSION"), "rules": rules } },
            // Columns count characters (section 3.14.17).
            "columnKind": "unicodeCodePoints",
            "results": findings.iter().map(result).collect::<Vec<_>>(),
        }],
    })
}

fn result(finding: &FindingJson) -> Value {
    // Section 3.27.10: a hint is a note.
    let level = match finding.severity {
        Severity::Error => "error",
        Severity::Warning => "warning",
        Severity::Hint => "note",
    };
    let mut text = finding.message.clone();
    for hint in &finding.hints {
        text.push('\n');
        text.push_str(hint);
    }
    let mut result = json!({
        "ruleId": finding.code,
        "level": level,
        "message": { "text": text },
        "locations": [location(&finding.at)],
    });
    if !finding.also.is_empty() {
        let related = finding.also.iter().map(|also| {
            let mut place = location(&also.at);
            place["message"] = json!({ "text": also.message });
            place
        });
        result["relatedLocations"] = related.collect();
    }
    if !finding.fixes.is_empty() {
        result["fixes"] = finding.fixes.iter().map(fix).collect();
    }
    result
}

/// Section 3.28; an end column is after the last character (section 3.30.8), as ours is.
fn location(place: &Place) -> Value {
    json!({ "physicalLocation": { "artifactLocation": { "uri": uri(&place.file) }, "region": region(place) } })
}

fn region(place: &Place) -> Value {
    json!({
        "startLine": place.line,
        "startColumn": place.column,
        "endLine": place.end_line,
        "endColumn": place.end_column,
    })
}

fn fix(fix: &FixJson) -> Value {
    json!({
        "description": { "text": fix.title },
        "artifactChanges": [{
            "artifactLocation": { "uri": uri(&fix.at.file) },
            "replacements": [{
                "deletedRegion": region(&fix.at),
                "insertedContent": { "text": fix.replacement },
            }],
        }],
    })
}

/// A path as a URI reference (RFC 3986, section 4.2): everything but its unreserved characters and the slash as
/// per cent and two digits.
#[must_use]
pub fn uri(path: &str) -> String {
    use std::fmt::Write;
    let mut uri = String::new();
    for byte in path.bytes() {
        if byte.is_ascii_alphanumeric() || b"-._~/".contains(&byte) {
            uri.push(char::from(byte));
        } else {
            // Writing into a string cannot fail.
            let _ = write!(uri, "%{byte:02X}");
        }
    }
    uri
}
