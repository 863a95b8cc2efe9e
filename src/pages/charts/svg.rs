//! An SVG in the making: its marks, its scales, the words for whoever does not see it.

use std::fmt::Write as _;

pub(super) const WIDTH: f64 = 400.0;
pub(super) const MARGIN: f64 = 24.0;
/// Room for the numbers of an upright scale.
pub(super) const SCALE: f64 = 38.0;

/// What a chart is called and what it shows, for whoever does not see it.
pub struct Words<'a> {
    /// Tells it apart from the others of its page.
    pub id: &'a str,
    /// What it is of.
    pub title: &'a str,
    /// How to read it, and where its figures stand.
    pub description: &'a str,
}

/// A mark of a chart: what it means is told by its shape.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Shape {
    Dot,
    Square,
    Triangle,
}

/// An SVG in the making.
pub(super) struct Svg(pub(super) String);

impl Svg {
    pub(super) fn new(words: &Words, height: f64) -> Self {
        let Words { id, title, description } = words;
        let (title, description) = (escaped(title), escaped(description));
        Self(format!(
            "<svg class=\"chart\" viewBox=\"0 0 {WIDTH} {height}\" role=\"img\" aria-labelledby=\"{id}-t {id}-d\">\
             <title id=\"{id}-t\">{title}</title><desc id=\"{id}-d\">{description}</desc>"
        ))
    }

    pub(super) fn line(&mut self, class: &str, (x1, y1): (f64, f64), (x2, y2): (f64, f64)) {
        let _ = write!(self.0, "<line class=\"{class}\" x1=\"{x1:.1}\" y1=\"{y1:.1}\" x2=\"{x2:.1}\" y2=\"{y2:.1}\"/>");
    }

    pub(super) fn text(&mut self, class: &str, (x, y): (f64, f64), text: &str) {
        let _ = write!(self.0, "<text class=\"{class}\" x=\"{x:.1}\" y=\"{y:.1}\">{}</text>", escaped(text));
    }

    pub(super) fn path(&mut self, class: &str, d: &str) {
        let _ = write!(self.0, "<path class=\"{class}\" d=\"{d}\"/>");
    }

    pub(super) fn dot(&mut self, at: (f64, f64)) {
        self.mark(Shape::Dot, "dot", at);
    }

    /// Draws a ring around a dot.
    pub(super) fn ring(&mut self, (x, y): (f64, f64)) {
        let _ = write!(self.0, "<circle class=\"ring\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"10\"/>");
    }

    pub(super) fn mark(&mut self, shape: Shape, class: &str, (x, y): (f64, f64)) {
        match shape {
            Shape::Dot => {
                let _ = write!(self.0, "<circle class=\"{class}\" cx=\"{x:.1}\" cy=\"{y:.1}\" r=\"4\"/>");
            }
            Shape::Square => self.path(class, &format!("M{:.1} {:.1}h8v8h-8z", x - 4.0, y - 4.0)),
            Shape::Triangle => self.path(class, &format!("M{:.1} {:.1}h10l-5-9z", x - 5.0, y + 4.0)),
        }
    }

    pub(super) fn end(self) -> String {
        self.0 + "</svg>"
    }
}

/// A scale from figures to places.
#[derive(Clone, Copy)]
pub(super) struct Scale {
    pub(super) low: f64,
    pub(super) high: f64,
    pub(super) from: f64,
    pub(super) to: f64,
}

impl Scale {
    /// Makes the scale that holds all values.
    pub(super) fn over(values: impl Iterator<Item = f64>, from: f64, to: f64) -> Self {
        let (low, high) = values.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), x| (low.min(x), high.max(x)));
        if low > high {
            return Self { low: 0.0, high: 1.0, from, to };
        }
        let widened = if high > low { (low, high) } else { (low - 0.5, high + 0.5) };
        Self { low: widened.0, high: widened.1, from, to }
    }

    pub(super) fn at(&self, value: f64) -> f64 {
        self.from + (value - self.low) / (self.high - self.low) * (self.to - self.from)
    }

    /// Returns round numbers on the scale, at most `most` and one, and the decimals that they are written with.
    pub(super) fn ticks(&self, most: f64) -> (Vec<f64>, usize) {
        let rough = (self.high - self.low) / most;
        let unit = 10_f64.powf(rough.log10().floor());
        let step = [1.0, 2.0, 5.0, 10.0].into_iter().map(|n| n * unit).find(|step| *step >= rough).unwrap_or(unit);
        let decimals = (-step.log10().floor()).max(0.0) as usize;
        let (first, last) = ((self.low / step - 1e-9).ceil() as i64, (self.high / step + 1e-9).floor() as i64);
        ((first..=last).map(|n| n as f64 * step).collect(), decimals)
    }
}

/// Writes lines from point to point.
pub(super) fn polyline(points: impl Iterator<Item = (f64, f64)>) -> String {
    let mut d = String::new();
    for (n, (x, y)) in points.enumerate() {
        let _ = write!(d, "{}{x:.1} {y:.1}", if n == 0 { "M" } else { "L" });
    }
    d
}

/// Writes points as strokes of no length: many weigh little, and a round cap makes dots of them.
pub(super) fn points(at: impl Iterator<Item = (f64, f64)>) -> String {
    at.fold(String::new(), |mut d, (x, y)| {
        let _ = write!(d, "M{x:.0} {y:.0}h0");
        d
    })
}

pub(super) fn crosses(at: impl Iterator<Item = (f64, f64)>) -> String {
    at.fold(String::new(), |mut d, (x, y)| {
        let _ = write!(d, "M{:.0} {:.0}l6 6m0-6l-6 6", x - 3.0, y - 3.0);
        d
    })
}

pub(in crate::pages) fn escaped(text: &str) -> String {
    text.replace('&', "&amp;").replace('<', "&lt;").replace('"', "&quot;")
}

#[cfg(test)]
pub(super) mod tests {
    use super::*;

    /// Finds every place that a chart draws at, by the names of its attributes.
    pub(in crate::pages::charts) fn places(svg: &str, names: &[&str]) -> Vec<f64> {
        let of = |name: &&str| {
            let parts = svg.split(&format!(" {name}=\"")).skip(1).collect::<Vec<_>>();
            parts.into_iter().map(|part| part.split('"').next().unwrap().parse().unwrap()).collect::<Vec<f64>>()
        };
        names.iter().flat_map(of).collect()
    }

    /// Checks what holds for every chart.
    pub(in crate::pages::charts) fn sound(svg: &str) {
        for wrong in ["NaN", "inf", "style="] {
            assert!(!svg.contains(wrong), "{wrong}: {svg}");
        }
        assert!(svg.starts_with("<svg class=\"chart\" viewBox=\"0 0 400 ") && svg.ends_with("</svg>"));
        assert!(svg.contains("<title id=") && svg.contains("<desc id="));
        let height: f64 =
            svg["<svg class=\"chart\" viewBox=\"0 0 400 ".len()..].split('"').next().unwrap().parse().unwrap();
        for (names, most) in [(["x", "x1", "x2", "cx"], WIDTH), (["y", "y1", "y2", "cy"], height)] {
            for place in places(svg, &names) {
                assert!((0.0..=most).contains(&place), "{place} is outside: {svg}");
            }
        }
    }

    #[test]
    fn ticks_are_round_and_lie_on_the_scale() {
        let check = |low: f64, high: f64, expect: &[f64], decimals| {
            let (ticks, written) = Scale { low, high, from: 0.0, to: 1.0 }.ticks(5.0);
            assert_eq!(written, decimals, "{low} to {high}");
            assert_eq!(ticks.len(), expect.len(), "{ticks:?}");
            // the steps are multiples of powers of ten as floats
            assert!(ticks.iter().zip(expect).all(|(is, due)| (is - due).abs() < 1e-12), "{ticks:?}");
        };
        check(-4.0, 30.0, &[0.0, 10.0, 20.0, 30.0], 0);
        check(-0.31, 0.42, &[-0.2, 0.0, 0.2, 0.4], 1);
        check(11.7, 19.2, &[12.0, 14.0, 16.0, 18.0], 0);
        check(-5.0, 5.0, &[-4.0, -2.0, 0.0, 2.0, 4.0], 0);
    }

    #[test]
    fn texts_are_escaped() {
        let svg = Svg::new(&Words { id: "a", title: "<b> & \"c\"", description: "d" }, 10.0).end();
        assert!(svg.contains("&lt;b> &amp; &quot;c&quot;"), "{svg}");
    }
}
