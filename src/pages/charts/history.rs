//! Differentials by date, and the league index that they made.

use super::svg::{MARGIN, SCALE, Scale, Shape, Svg, WIDTH, Words, polyline};
use crate::domain::season::record::DifferentialKind;
use crate::pages::words;
use jiff::civil::Date;

/// A differential of the chart.
pub struct Differential {
    /// The day that counts for it.
    pub date: Date,
    /// The differential.
    pub value: f64,
    /// What it comes from: a dot for a round, a square for two nines, a triangle for one brought along.
    pub kind: DifferentialKind,
    /// Whether the index rests on it: filled, or else hollow.
    pub counts: bool,
    /// The league index that it made.
    pub index: Option<f64>,
}

const HEIGHT: f64 = 240.0;
/// The fewest days for which the axis shows months alone.
const LONG_DAYS: f64 = 400.0;

/// Draws differentials by date, oldest first, with the index as a line of steps.
pub fn history(about: &Words, rows: &[Differential]) -> String {
    let mut svg = Svg::new(about, HEIGHT);
    let Some(first) = rows.first().map(|row| row.date) else { return svg.end() };
    let days = |date: Date| f64::from((date - first).get_days());
    let x = Scale::over(rows.iter().map(|row| days(row.date)), SCALE + 10.0, WIDTH - MARGIN);
    let values = rows.iter().flat_map(|row| [Some(row.value), row.index]).flatten();
    let y = Scale::over(values, HEIGHT - 40.0, 16.0);
    let (ticks, decimals) = y.ticks(5.0);
    for tick in ticks {
        svg.line("faint", (SCALE, y.at(tick)), (WIDTH - 8.0, y.at(tick)));
        svg.text("scale", (SCALE - 6.0, y.at(tick) + 4.0), &words::number(format!("{tick:.decimals$}")));
    }
    for (at, text) in dates(first, rows) {
        svg.line("faint", (x.at(at), HEIGHT - 34.0), (x.at(at), HEIGHT - 28.0));
        svg.text("tick", (x.at(at), HEIGHT - 12.0), &text);
    }
    svg.path("index", &steps(rows, |row| (x.at(days(row.date)), row.index.map(|index| y.at(index)))));
    for row in rows {
        let shape = match row.kind {
            DifferentialKind::Round => Shape::Dot,
            DifferentialKind::Pair => Shape::Square,
            DifferentialKind::Carried => Shape::Triangle,
        };
        svg.mark(shape, if row.counts { "dot" } else { "hollow" }, (x.at(days(row.date)), y.at(row.value)));
    }
    svg.end()
}

/// Returns up to four dates of the axis: the days after the first, and how they are written.
fn dates(first: Date, rows: &[Differential]) -> Vec<(f64, String)> {
    let span = rows.last().map_or(0, |row| (row.date - first).get_days());
    let written = |day: i32| {
        let date = first.saturating_add(jiff::Span::new().days(day));
        date.strftime(if f64::from(span) > LONG_DAYS { "%b %Y" } else { "%-d %b" }).to_string()
    };
    let parts = if span == 0 { 0 } else { span.min(3) };
    (0..=parts).map(|n| n * span / parts.max(1)).map(|day| (f64::from(day), written(day))).collect()
}

/// Writes the line that keeps each index until the next one is made.
fn steps(rows: &[Differential], at: impl Fn(&Differential) -> (f64, Option<f64>)) -> String {
    let mut points: Vec<(f64, f64)> = Vec::new();
    for (x, y) in rows.iter().map(at) {
        if let Some((_, last)) = points.last().copied() {
            points.push((x, last));
        }
        points.extend(y.map(|y| (x, y)));
    }
    polyline(points.into_iter())
}

#[cfg(test)]
mod tests {
    use super::super::svg::tests::{places, sound};
    use super::*;
    use jiff::civil::date;

    const ABOUT: Words = Words { id: "history", title: "Differentials", description: "By date" };

    #[test]
    fn kinds_are_told_by_shape_and_counting_ones_are_filled() {
        let row =
            |day, kind, counts, index| Differential { date: date(2027, 1, day), value: 12.0, kind, counts, index };
        let svg = history(
            &ABOUT,
            &[
                row(1, DifferentialKind::Carried, false, None),
                row(8, DifferentialKind::Pair, true, None),
                row(15, DifferentialKind::Round, true, Some(11.5)),
                row(29, DifferentialKind::Round, false, Some(12.4)),
            ],
        );
        sound(&svg);
        assert_eq!(svg.matches("<circle").count(), 2);
        assert_eq!((svg.matches("class=\"dot\"").count(), svg.matches("class=\"hollow\"").count()), (2, 2));
        assert!(svg.contains("h8v8h-8z") && svg.contains("l-5-9z"));
        for day in ["1 Jan", "10 Jan", "19 Jan", "29 Jan"] {
            assert!(svg.contains(&format!(">{day}</text>")), "{day}: {svg}");
        }
        // two weeks are twice as wide as one
        let dots = places(&svg, &["cx"]);
        let (left, right) = (SCALE + 10.0, WIDTH - MARGIN);
        assert!((dots[0] - (left + (right - left) / 2.0)).abs() < 0.1 && (dots[1] - right).abs() < 0.1, "{dots:?}");
        // the index begins with the third, and holds to the last day
        let line = svg.split("class=\"index\" d=\"").nth(1).unwrap().split('"').next().unwrap();
        assert_eq!(line.matches(['M', 'L']).count(), 3, "{line}");
    }

    #[test]
    fn one_differential_and_none_make_a_chart_too() {
        let row = Differential {
            date: date(2027, 1, 1),
            value: 12.3,
            kind: DifferentialKind::Round,
            counts: false,
            index: None,
        };
        sound(&history(&ABOUT, &[row]));
        sound(&history(&ABOUT, &[]));
    }
}
