//! What was wrong with a request, in the words of the page: the field's label instead of its place in a body.

use crate::http::problem::{Problem, ProblemField};

/// Writes a text as a sentence: a capital at its beginning, a full stop at its end.
pub fn sentence(text: &str) -> String {
    let mut chars = text.chars();
    let mut out: String = chars.next().into_iter().flat_map(char::to_uppercase).chain(chars).collect();
    if !out.is_empty() && !out.ends_with(['.', '!', '?', '…', '”']) {
        out.push('.');
    }
    out
}

/// Writes what is wrong with a field under its label. A detail that begins with a verb goes on from the field's name;
/// any other is a sentence of its own.
pub fn of_field(label: &str, error: &ProblemField) -> String {
    match error.detail.split(' ').next() {
        Some("must" | "is") => sentence(&format!("{} {}", name_in(label), error.detail)),
        _ => sentence(&error.detail),
    }
}

/// Writes every fault of a problem that no field of the page has, and what happened where no field is named.
pub fn all(problem: &Problem) -> Vec<String> {
    match problem.errors() {
        [] => vec![sentence(problem.detail())],
        errors => errors.iter().map(|error| of_field(&label(&error.pointer), error)).collect(),
    }
}

/// Returns the part of a label that names its field, without unit and limits.
fn name_in(label: &str) -> &str {
    label.split([',', ':', '(']).next().unwrap_or(label).trim_end()
}

/// The labels of fields whose names in a body are not words that people use.
const LABELS: [(&str, &str); 15] = [
    ("distance_ft", "Putt distance"),
    ("elevation_in", "Rise"),
    ("ball_speed_mph", "Ball speed"),
    ("start_line_deg", "Start line"),
    ("played_line_deg", "Played line"),
    ("putt_count", "Number of putts"),
    ("setup_id", "Simulator"),
    ("played_on", "Date"),
    ("due_at", "Day"),
    ("round_ids", "Rounds affected"),
    ("display_name", "Name"),
    ("email", "E-mail"),
    ("invitation", "Invitation code"),
    ("after_event", "Event"),
    ("member_id", "Player"),
];

/// Names the field that a pointer leads to, with the number of the putt that it belongs to.
pub fn label(pointer: &str) -> String {
    let parts: Vec<&str> = pointer.split('/').skip(1).collect();
    let last = parts.iter().rev().find(|part| part.parse::<usize>().is_err()).copied().unwrap_or("This");
    let known = LABELS.iter().find(|(name, _)| *name == last).map(|(_, label)| (*label).to_owned());
    let named = known.unwrap_or_else(|| last.replace('_', " "));
    let putt = parts.windows(2).find(|pair| pair[0] == "putts").and_then(|pair| pair[1].parse::<usize>().ok());
    match putt {
        Some(n) if last != "putts" => format!("{named} of putt {}", n + 1),
        _ => named,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::facts::Fault;
    use crate::domain::rule::Rule;
    use crate::wire::json::Node;
    use crate::wire::schema::{Schema, field};

    #[test]
    fn a_fault_names_the_field_as_the_page_does() {
        let reals = || Schema::Real { min: 0.0, max: 200.0, above: true };
        let schema = Schema::Object(vec![field("distance_ft", reals()), field("name", Schema::Text(1, 80))]);
        let node = Node::parse(br#"{"distance_ft": 300, "name": ""}"#).unwrap();
        let problem = Problem::fields(schema.check(&node));
        assert_eq!(
            all(&problem),
            [
                "Putt distance must be more than 0 and at most 200 ft; it is 300.",
                "Name must not be empty, and has at most 80 characters."
            ]
        );
        let stimp = of_field("Green speed, ft (4 to 16)", &problem.errors()[0]);
        assert_eq!(stimp, "Green speed must be more than 0 and at most 200 ft; it is 300.");
        let fault = Fault::new("/closes_at", Rule::TimeOrder, "the closing time must be after the opening time");
        let closing = Problem::faults(vec![fault]);
        assert_eq!(of_field("Closing time", &closing.errors()[0]), "The closing time must be after the opening time.");
        assert_eq!(all(&Problem::not_found()), ["This was not found, or you have no access to it."]);
        assert_eq!(label("/holes/3/putts/1/distance_ft"), "Putt distance of putt 2");
        assert_eq!(label("/holes/3/putts"), "putts");
    }
}
