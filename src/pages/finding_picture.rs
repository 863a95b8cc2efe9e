//! The picture of a finding: shares by row, or lines as measured and as played. Each stands beside a table of the same.

use super::charts::{escaped, opening};
use crate::domain::audit::Picture;
use std::fmt::Write as _;

const WIDTH: f64 = 400.0;
const LABELS: f64 = 130.0;
const ROW: f64 = 28.0;
const MARGIN: f64 = 24.0;

/// A share in per cent, and what it would be by the honest measure beside it.
struct Share {
    label: String,
    seen: f64,
    expected: Option<f64>,
}

/// Draws what there is to draw; `None` where there is nothing.
pub fn draw(picture: &Picture) -> Option<String> {
    let pct = |part: f64, whole: u32| 100.0 * part / f64::from(whole.max(1));
    match picture {
        Picture::MadeByDistance(bands) if !bands.is_empty() => {
            let share = |band: &crate::domain::audit::MadeBand| Share {
                label: format!("{}–{} ft", band.from_ft, band.to_ft),
                seen: pct(f64::from(band.made), band.putts),
                expected: Some(pct(band.expected, band.putts)),
            };
            Some(shares(
                "Putts made by distance, per cent: filled as made, hollow as expected",
                bands.iter().map(share),
            ))
        }
        Picture::Counts(counts) if !counts.is_empty() => {
            let share = |count: &crate::domain::audit::Count| Share {
                label: count.label.to_owned(),
                seen: pct(f64::from(count.part), count.of),
                expected: None,
            };
            Some(shares("Parts of wholes, per cent", counts.iter().map(share)))
        }
        Picture::Lines(points) if !points.is_empty() => Some(lines(points)),
        _ => None,
    }
}

fn shares(title: &str, rows: impl Iterator<Item = Share>) -> String {
    let rows: Vec<Share> = rows.collect();
    let height = ROW * rows.len() as f64 + 2.0 * MARGIN;
    // Labels that are sentences stand above their row instead of beside it.
    let is_wide = rows.iter().any(|row| row.label.chars().count() > 16);
    let left = if is_wide { MARGIN } else { LABELS };
    let step = if is_wide { 2.0 * ROW } else { ROW };
    let height = if is_wide { height + ROW * rows.len() as f64 } else { height };
    let x = |pct: f64| left + pct.clamp(0.0, 100.0) / 100.0 * (WIDTH - left - MARGIN);
    let mut svg = opening(title, height);
    for tick in [0.0, 50.0, 100.0] {
        let (x, bottom) = (x(tick), height - MARGIN);
        let _ = write!(svg, "<line class=\"zero\" x1=\"{x:.1}\" x2=\"{x:.1}\" y1=\"8\" y2=\"{bottom:.1}\"/>");
        let _ = write!(svg, "<text class=\"tick\" x=\"{x:.1}\" y=\"{:.1}\">{tick}</text>", height - 6.0);
    }
    for (n, row) in rows.iter().enumerate() {
        let top = step * n as f64 + MARGIN;
        let y = if is_wide { top + ROW } else { top };
        let _ = write!(svg, "<text class=\"label\" x=\"0\" y=\"{:.1}\">{}</text>", top + 5.0, escaped(&row.label));
        if let Some(expected) = row.expected {
            let _ = write!(svg, "<circle class=\"hollow\" cx=\"{:.1}\" cy=\"{y:.1}\" r=\"7\"/>", x(expected));
        }
        let _ = write!(svg, "<circle class=\"dot\" cx=\"{:.1}\" cy=\"{y:.1}\" r=\"4\"/>", x(row.seen));
    }
    svg + "</svg>"
}

/// The measured line runs to the right, the played one upwards; on the dashed line both are the same.
fn lines(points: &[(f64, f64, f64)]) -> String {
    const SIDE: f64 = 320.0;
    let reach = points.iter().flat_map(|(measured, played, _)| [measured.abs(), played.abs()]).fold(0.5, f64::max);
    let at = |degrees: f64| MARGIN + (degrees + reach) / (2.0 * reach) * (SIDE - 2.0 * MARGIN);
    let (low, high) = (at(-reach), at(reach));
    let middle = at(0.0);
    let mut svg = opening("Line as played against line as measured, degrees right of the intended one", SIDE);
    for (x1, y1, x2, y2) in [(low, high, high, low), (low, middle, high, middle), (middle, low, middle, high)] {
        let _ = write!(svg, "<line class=\"zero\" x1=\"{x1:.1}\" y1=\"{y1:.1}\" x2=\"{x2:.1}\" y2=\"{y2:.1}\"/>");
    }
    for (measured, played, _) in points {
        let (x, y) = (at(*measured), SIDE - at(*played));
        let _ = write!(svg, "<circle class=\"dot\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"3\"/>");
    }
    let ends = [(low, -reach), (high, reach)];
    for (x, degrees) in ends {
        let text = super::words::signed(&degrees, 1);
        let _ = write!(svg, "<text class=\"tick\" x=\"{x:.1}\" y=\"{:.1}\">{text}</text>", SIDE - 6.0);
    }
    for (x, y, text) in [(middle, SIDE - 6.0, "measured"), (middle, 14.0, "played")] {
        let _ = write!(svg, "<text class=\"tick\" x=\"{x:.1}\" y=\"{y:.1}\">{text}</text>");
    }
    svg + "</svg>"
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::domain::audit::MadeBand;

    #[test]
    fn every_dot_lies_inside_the_picture() {
        let band = |putts, made, expected| MadeBand { from_ft: 3.0, to_ft: 5.0, putts, made, expected };
        let pictures = [
            Picture::MadeByDistance(vec![band(10, 10, 4.2), band(0, 0, 0.0)]),
            Picture::Lines(vec![(-2.1, 0.3, 12.0), (0.0, 0.0, 30.0), (44.0, -45.0, 3.0)]),
        ];
        for picture in pictures {
            let svg = draw(&picture).expect("a picture");
            for part in svg.split("cx=\"").skip(1) {
                let x: f64 = part.split('"').next().unwrap().parse().unwrap();
                assert!((0.0..=WIDTH).contains(&x), "{svg}");
            }
            assert!(!svg.contains("NaN") && !svg.contains("style="), "{svg}");
        }
        assert_eq!(draw(&Picture::Counts(Vec::new())), None);
    }
}
