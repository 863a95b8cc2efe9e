//! Charts as SVG: dots with intervals on a line of zero. Each stands beside a table of the same figures.

use std::fmt::Write as _;

/// A row of a dot chart.
pub struct Dot {
    /// What it is of.
    pub label: String,
    /// The figure.
    pub value: f64,
    /// Its 95 % interval, where there is one.
    pub interval: Option<(f64, f64)>,
}

const WIDTH: f64 = 400.0;
const LABELS: f64 = 110.0;
const ROW: f64 = 28.0;
const MARGIN: f64 = 24.0;

/// Draws dots with their intervals, a row each, on a vertical line of zero.
///
/// # Shape
/// Nothing is cut: the scale holds every interval and zero.
pub fn dots(title: &str, rows: &[Dot]) -> String {
    let ends = |row: &Dot| row.interval.map_or([row.value; 3], |(low, high)| [low, row.value, high]);
    let values = || rows.iter().flat_map(ends);
    let (low, high) = (values().fold(0.0, f64::min), values().fold(0.0, f64::max));
    let span = if high > low { high - low } else { 1.0 };
    let x = |value: f64| LABELS + (value - low) / span * (WIDTH - LABELS - MARGIN);
    let height = ROW * rows.len() as f64 + 2.0 * MARGIN;
    let mut svg = opening(title, height);
    let (zero, bottom) = (x(0.0), height - MARGIN);
    let _ = write!(svg, "<line class=\"zero\" x1=\"{zero:.1}\" x2=\"{zero:.1}\" y1=\"8\" y2=\"{bottom:.1}\"/>");
    let _ = write!(svg, "<text class=\"tick\" x=\"{zero:.1}\" y=\"{:.1}\">0</text>", height - 6.0);
    for end in [low, high].into_iter().filter(|end| (x(*end) - zero).abs() > 40.0) {
        let text = super::words::signed(&end, 1);
        let _ = write!(svg, "<text class=\"tick\" x=\"{:.1}\" y=\"{:.1}\">{text}</text>", x(end), height - 6.0);
    }
    for (n, row) in rows.iter().enumerate() {
        let y = ROW * n as f64 + MARGIN;
        let _ = write!(svg, "<text class=\"label\" x=\"0\" y=\"{:.1}\">{}</text>", y + 5.0, escaped(&row.label));
        if let Some((low, high)) = row.interval {
            let (low, high) = (x(low), x(high));
            let _ =
                write!(svg, "<line class=\"interval\" x1=\"{low:.1}\" x2=\"{high:.1}\" y1=\"{y:.1}\" y2=\"{y:.1}\"/>");
        }
        let _ = write!(svg, "<circle class=\"dot\" cx=\"{:.1}\" cy=\"{y:.1}\" r=\"5\"/>", x(row.value));
    }
    svg + "</svg>"
}

/// Draws values in order, filled where they count and hollow where they do not.
pub fn history(title: &str, values: &[(f64, bool)]) -> String {
    const HEIGHT: f64 = 200.0;
    let low = values.iter().map(|(value, _)| *value).fold(f64::INFINITY, f64::min);
    let high = values.iter().map(|(value, _)| *value).fold(f64::NEG_INFINITY, f64::max);
    let span = if high > low { high - low } else { 1.0 };
    let y = |value: f64| MARGIN + (high - value) / span * (HEIGHT - 2.0 * MARGIN);
    let step = (WIDTH - 2.0 * MARGIN - 40.0) / (values.len().max(2) - 1) as f64;
    let mut svg = opening(title, HEIGHT);
    for end in [low, high] {
        let text = super::words::number(format!("{end:.1}"));
        let _ = write!(svg, "<text class=\"label\" x=\"0\" y=\"{:.1}\">{text}</text>", y(end) + 5.0);
    }
    for (n, (value, counts)) in values.iter().enumerate() {
        let class = if *counts { "dot" } else { "hollow" };
        let x = MARGIN + 40.0 + step * n as f64;
        let _ = write!(svg, "<circle class=\"{class}\" cx=\"{x:.1}\" cy=\"{:.1}\" r=\"5\"/>", y(*value));
    }
    svg + "</svg>"
}

pub(super) fn opening(title: &str, height: f64) -> String {
    let title = escaped(title);
    format!(
        "<svg class=\"chart\" viewBox=\"0 0 {WIDTH} {height}\" role=\"img\" aria-label=\"{title}\"><title>{title}</title>"
    )
}

pub(super) fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('"', "&quot;")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_chart_holds_every_interval_and_zero() {
        let row = |value, interval| Dot { label: "3–5 ft".into(), value, interval };
        let svg = dots("Gained <by> distance", &[row(2.0, Some((1.0, 30.0))), row(-4.0, None)]);
        for part in svg.split("x1=\"").skip(1).chain(svg.split("cx=\"").skip(1)) {
            let x: f64 = part.split('"').next().unwrap().parse().unwrap();
            assert!((LABELS..=WIDTH).contains(&x), "{x} is outside: {svg}");
        }
        assert!(svg.contains("Gained &lt;by>") && svg.matches("class=\"interval\"").count() == 1);
        assert!(!svg.contains("style="), "the content policy forbids it");
    }

    #[test]
    fn one_value_makes_a_chart_too() {
        assert!(!history("Differentials", &[(12.3, true)]).contains("NaN"));
        assert!(!dots("Gained", &[]).contains("NaN"));
    }
}
