//! Dots on a line of zero: a row each with its interval, or a hole each.

use super::svg::{MARGIN, SCALE, Scale, Shape, Svg, WIDTH, Words};
use crate::pages::words;

/// A row of a dot chart.
pub struct Dot {
    /// What it is of.
    pub label: String,
    /// The figure.
    pub value: f64,
    /// Its 95 % interval, where there is one.
    pub interval: Option<(f64, f64)>,
    /// A figure to set beside it, drawn as a hollow square.
    pub beside: Option<f64>,
}

/// Room for labels beside the dots.
const LABELS: f64 = 110.0;
/// Labels with more letters stand above their dots.
const LONG_LABEL: usize = 15;

/// Draws dots with their intervals, a row each, on an upright line of zero.
pub fn dots(about: &Words, rows: &[Dot]) -> String {
    let is_long = rows.iter().any(|row| row.label.chars().count() > LONG_LABEL);
    let (left, step, drop) = if is_long { (MARGIN, 44.0, 18.0) } else { (LABELS, 28.0, 0.0) };
    let ends = |row: &Dot| {
        let (low, high) = row.interval.unwrap_or((row.value, row.value));
        [low, row.value, high, row.beside.unwrap_or(row.value)]
    };
    let x = Scale::over(rows.iter().flat_map(ends).chain([0.0]), left, WIDTH - MARGIN);
    let bottom = step * rows.len() as f64 + MARGIN;
    let mut svg = Svg::new(about, bottom + MARGIN);
    let (ticks, decimals) = x.ticks(5.0);
    for tick in ticks {
        let class = if tick == 0.0 { "zero" } else { "faint" };
        svg.line(class, (x.at(tick), 8.0), (x.at(tick), bottom));
        svg.text("tick", (x.at(tick), bottom + 16.0), &words::signed(&tick, decimals));
    }
    for (n, row) in rows.iter().enumerate() {
        let y = step * n as f64 + MARGIN;
        svg.text("label", (0.0, if is_long { y } else { y + 5.0 }), &row.label);
        let y = y + drop;
        if let Some((low, high)) = row.interval {
            svg.line("interval", (x.at(low), y), (x.at(high), y));
        }
        if let Some(beside) = row.beside {
            svg.mark(Shape::Square, "hollow", (x.at(beside), y));
        }
        svg.dot((x.at(row.value), y));
    }
    svg.end()
}

/// Draws what each hole gained on a level line of zero: the hole's number and the figure, where there is one.
pub fn by_hole(about: &Words, holes: &[(u8, Option<f64>)]) -> String {
    const HEIGHT: f64 = 190.0;
    let y = Scale::over(holes.iter().filter_map(|(_, gained)| *gained).chain([0.0]), HEIGHT - 34.0, 14.0);
    let step = (WIDTH - SCALE - MARGIN) / holes.len().max(1) as f64;
    let mut svg = Svg::new(about, HEIGHT);
    let (ticks, decimals) = y.ticks(4.0);
    for tick in ticks {
        let class = if tick == 0.0 { "zero" } else { "faint" };
        svg.line(class, (SCALE, y.at(tick)), (WIDTH - 8.0, y.at(tick)));
        svg.text("scale", (SCALE - 6.0, y.at(tick) + 4.0), &words::signed(&tick, decimals));
    }
    for (n, (number, gained)) in holes.iter().enumerate() {
        let x = SCALE + step * (n as f64 + 0.5);
        if holes.len() <= 9 || n % 2 == 0 {
            svg.text("tick", (x, HEIGHT - 10.0), &number.to_string());
        }
        if let Some(gained) = gained {
            svg.line("interval", (x, y.at(0.0)), (x, y.at(*gained)));
            svg.dot((x, y.at(*gained)));
        }
    }
    svg.end()
}

#[cfg(test)]
mod tests {
    use super::super::svg::tests::{places, sound};
    use super::*;

    const ABOUT: Words = Words { id: "gained", title: "Gained", description: "By distance" };

    #[test]
    fn a_chart_holds_every_interval_and_zero() {
        let row = |label: &str, value, interval| Dot { label: label.into(), value, interval, beside: None };
        for label in ["3–5 ft", "putts in a row alike (3 of 40)"] {
            let svg = dots(&ABOUT, &[row(label, 2.0, Some((1.0, 30.0))), row("7 < 10 ft", -4.0, None)]);
            sound(&svg);
            assert!(svg.contains("7 &lt; 10 ft") && svg.matches("class=\"interval\"").count() == 1);
            let dots = places(&svg, &["cx"]);
            let zero = places(svg.split("class=\"zero\"").nth(1).unwrap(), &["x1"])[0];
            assert!(dots[1] < zero && zero < dots[0], "what is below zero lies left of its line: {svg}");
        }
        sound(&dots(&ABOUT, &[]));
    }

    #[test]
    fn what_stands_beside_a_dot_is_a_square_on_the_same_scale() {
        let row = |value, beside| Dot { label: "3–5 ft".into(), value, interval: None, beside };
        let svg = dots(&ABOUT, &[row(2.0, Some(-30.0)), row(4.0, None)]);
        sound(&svg);
        let squares: Vec<&str> = svg.split("class=\"hollow\" d=\"M").skip(1).collect();
        assert_eq!(squares.len(), 1);
        let left: f64 = squares[0].split(' ').next().unwrap().parse().unwrap();
        // the scale reaches down to the square, whose middle is 4 to the right of its corner
        assert!((left + 4.0 - LABELS).abs() < 0.1, "{svg}");
    }

    #[test]
    fn a_hole_without_putts_has_no_dot() {
        let svg = by_hole(&ABOUT, &[(1, Some(-1.2)), (2, None), (3, Some(0.4))]);
        sound(&svg);
        let dots = places(&svg, &["cy"]);
        assert_eq!(dots.len(), 2);
        assert!(dots[0] > dots[1], "a loss lies below a gain");
        sound(&by_hole(&ABOUT, &[]));
        sound(&by_hole(&ABOUT, &[(4, Some(0.0))]));
    }
}
