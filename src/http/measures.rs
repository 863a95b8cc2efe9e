//! What is measured of requests, and how it is told.

use crate::league::Leagues;
use crate::log;
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::sync::{Mutex, PoisonError};
use std::time::Duration;
use tokio::sync::watch;

/// The upper ends of the classes of a duration, in seconds.
const CLASSES: [f64; 9] = [0.001, 0.003, 0.01, 0.03, 0.1, 0.3, 1.0, 3.0, 10.0];

#[derive(Clone, Default)]
struct Durations {
    counts: [u64; CLASSES.len() + 1],
    sum: f64,
}

impl Durations {
    fn add(&mut self, seconds: f64) {
        let class = CLASSES.iter().position(|end| seconds <= *end).unwrap_or(CLASSES.len());
        self.counts[class] += 1;
        self.sum += seconds;
    }

    /// Writes a histogram; `labels` stand before the class.
    fn write(&self, name: &str, labels: &str, text: &mut String) {
        let comma = if labels.is_empty() { "" } else { "," };
        let mut total = 0;
        for (class, count) in self.counts.iter().enumerate() {
            total += count;
            let end = CLASSES.get(class).map_or("+Inf".into(), |end| end.to_string());
            let _ = writeln!(text, "{name}_bucket{{{labels}{comma}le=\"{end}\"}} {total}");
        }
        let braced = if labels.is_empty() { String::new() } else { format!("{{{labels}}}") };
        let _ = writeln!(text, "{name}_count{braced} {total}\n{name}_sum{braced} {}", self.sum);
    }
}

/// The route by which a round is handed in.
const HAND_IN: (&str, &str) = ("/api/v1/events/{id}/rounds", "POST");

/// Counts and durations of requests, by route template, method and status.
pub struct Measures {
    requests: Mutex<BTreeMap<(String, String, u16), Durations>>,
    stop: watch::Sender<bool>,
}

impl Default for Measures {
    fn default() -> Self {
        Self { requests: Mutex::new(BTreeMap::new()), stop: watch::channel(false).0 }
    }
}

impl Measures {
    /// Counts a request.
    pub fn count(&self, route: &str, method: &str, status: u16, took: Duration) {
        let mut requests = self.requests.lock().unwrap_or_else(PoisonError::into_inner);
        requests.entry((route.to_owned(), method.to_owned(), status)).or_default().add(took.as_secs_f64());
    }

    /// Tells streams that the server stops.
    pub fn stop(&self) {
        let _ = self.stop.send(true);
    }

    /// Returns what tells that the server stops.
    pub fn stopping(&self) -> watch::Receiver<bool> {
        self.stop.subscribe()
    }

    /// Says whether the server stops.
    pub fn is_stopping(&self) -> bool {
        *self.stop.borrow()
    }

    /// Writes all measures as OpenMetrics.
    pub fn open_metrics(&self, leagues: &Leagues, uptime: Duration, findings: Option<i64>) -> String {
        let mut text = String::new();
        let requests = self.requests.lock().unwrap_or_else(PoisonError::into_inner).clone();
        let mut stored = Durations::default();
        kind(&mut text, "evenfield_request_seconds", "histogram", "Requests, by route, method and status.");
        for ((route, method, status), durations) in requests {
            if (route.as_str(), method.as_str()) == HAND_IN && status == 201 {
                stored = durations.clone();
            }
            let labels = format!("route=\"{route}\",method=\"{method}\",status=\"{status}\"");
            durations.write("evenfield_request_seconds", &labels, &mut text);
        }
        kind(
            &mut text,
            "evenfield_hand_in_seconds",
            "histogram",
            "Hand-ins answered 201, those sent again with them, from first byte to answer.",
        );
        stored.write("evenfield_hand_in_seconds", "", &mut text);
        let (weights, (derived, deriving)) = (leagues.weighing.weights(), leagues.hand_ins.derived());
        let mut tell = |name: &str, of: &str, help: &str, value: f64| {
            kind(&mut text, name, of, help);
            let _ = writeln!(text, "{name}{} {value}", if of == "counter" { "_total" } else { "" });
        };
        let waiting = leagues.hand_ins.waiting() as f64;
        tell("evenfield_hand_ins_waiting", "gauge", "Rounds that wait for a commit.", waiting);
        let waiting = leagues.writer.waiting() as f64;
        tell("evenfield_changes_waiting", "gauge", "Changes that wait for a commit.", waiting);
        tell("evenfield_commits", "counter", "Commits.", leagues.writer.commits() as f64);
        tell(
            "evenfield_derivations",
            "counter",
            "Times that figures were worked out of rounds that come in together.",
            derived as f64,
        );
        tell("evenfield_derivation_seconds", "counter", "The time that this took.", deriving.as_secs_f64());
        tell("evenfield_rounds_weighed", "counter", "Rounds taken into the evidence.", weights.rounds as f64);
        tell("evenfield_weighing_seconds", "counter", "The time that this took.", weights.took.as_secs_f64());
        if let Some(findings) = findings {
            tell("evenfield_findings_opened", "counter", "Findings of all leagues.", findings as f64);
        }
        let rows = leagues.writer.rows_read() as f64;
        tell(
            "evenfield_change_rows_read",
            "counter",
            "Rows that changes read while others waited for their turn.",
            rows,
        );
        let failures = leagues.writer.tasks().failures() as f64;
        tell("evenfield_task_failures", "counter", "Times that a task failed and was started again.", failures);
        let dropped = log::dropped() as f64;
        tell("evenfield_log_lines_dropped", "counter", "Lines of the log that could not be written.", dropped);
        tell("evenfield_uptime_seconds", "gauge", "Since the server started.", uptime.as_secs() as f64);
        text.push_str("# EOF\n");
        text
    }
}

/// Begins a family of measures.
fn kind(text: &mut String, name: &str, of: &str, help: &str) {
    let _ = writeln!(text, "# TYPE {name} {of}\n# HELP {name} {help}");
    if name.ends_with("_seconds") {
        let _ = writeln!(text, "# UNIT {name} seconds");
    }
}
