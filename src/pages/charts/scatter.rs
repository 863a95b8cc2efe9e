//! Putts one by one: start line and pace beside the window that the hole leaves.

use super::svg::{SCALE, Scale, Svg, WIDTH, Words, crosses, points, polyline};
use crate::domain::putting::capture::EdgePoint;
use crate::domain::putting::picture::{Strike, StrikeBand};
use crate::pages::words;

const HEIGHT: f64 = 320.0;

/// The axes of a chart of points, and what lies between them.
pub(super) struct Plane {
    pub(super) x: Scale,
    pub(super) y: Scale,
}

impl Plane {
    /// Draws the scales, with lines of zero.
    pub(super) fn draw(&self, svg: &mut Svg, (across, up): (&str, &str)) {
        let (top, bottom) = (self.y.to, self.y.from);
        let (ticks, decimals) = self.x.ticks(6.0);
        for tick in ticks {
            let class = if tick == 0.0 { "zero" } else { "faint" };
            svg.line(class, (self.x.at(tick), top), (self.x.at(tick), bottom));
            svg.text("tick", (self.x.at(tick), bottom + 16.0), &words::signed(&tick, decimals));
        }
        let (ticks, decimals) = self.y.ticks(6.0);
        for tick in ticks {
            let class = if tick == 0.0 { "zero" } else { "faint" };
            svg.line(class, (self.x.from, self.y.at(tick)), (self.x.to, self.y.at(tick)));
            svg.text("scale", (SCALE - 6.0, self.y.at(tick) + 4.0), &words::signed(&tick, decimals));
        }
        svg.text("tick", (f64::midpoint(self.x.from, self.x.to), bottom + 32.0), across);
        svg.text("label", (0.0, 12.0), up);
    }

    pub(super) fn at(&self, (across, up): (f64, f64)) -> (f64, f64) {
        (self.x.at(across), self.y.at(up))
    }
}

/// Draws each putt of a band by its start line and its roll past the hole: a dot where it was holed, a cross where it
/// was missed. The shaded area is the window from the far end of the band, the dashed line the one from its near end.
pub fn strikes(about: &Words, band: &StrikeBand) -> String {
    let widest = |edge: &[EdgePoint]| edge.iter().map(|point| point.line_deg).fold(0.0, f64::max);
    let lines = band.strikes.iter().map(|strike| strike.line_deg.abs());
    let reach = lines.fold(widest(&band.near), f64::max);
    let pasts = band.strikes.iter().map(|strike| strike.past_ft);
    let tops = band.near.iter().chain(&band.far).map(|point| point.past_ft);
    let plane = Plane {
        x: Scale::over([-reach, reach].into_iter(), SCALE + 4.0, WIDTH - 10.0),
        y: Scale::over(pasts.chain(tops).chain([0.0]), HEIGHT - 44.0, 24.0),
    };
    let mut svg = Svg::new(about, HEIGHT);
    svg.path("window", &outline(&plane, &band.far));
    plane.draw(&mut svg, ("degrees left (−) and right (+)", "feet past the hole"));
    svg.path("near", &outline(&plane, &band.near));
    let of = |is_holed: bool| band.strikes.iter().filter(move |strike| strike.is_holed == is_holed);
    let at = |strike: &Strike| plane.at((strike.line_deg, strike.past_ft));
    svg.path("cross", &crosses(of(false).map(at)));
    svg.path("points", &points(of(true).map(at)));
    svg.end()
}

fn outline(plane: &Plane, edge: &[EdgePoint]) -> String {
    let right = edge.iter().map(|point| (point.line_deg, point.past_ft));
    let left = edge.iter().rev().map(|point| (-point.line_deg, point.past_ft));
    polyline(right.chain(left).map(|point| plane.at(point))) + "z"
}

#[cfg(test)]
mod tests {
    use super::super::svg::tests::sound;
    use super::*;
    use crate::domain::putting::capture::edge;
    use crate::domain::putting::picture::Place;
    use crate::domain::units::{Feet, Stimp};

    #[test]
    fn every_putt_is_drawn_holed_and_missed_apart() {
        let about = Words { id: "a", title: "Line and pace", description: "Putt by putt" };
        let strike = |line_deg, past_ft, is_holed| Strike { line_deg, past_ft, is_holed, place: Place::Inside };
        let stimp = Stimp::new(10.0).unwrap();
        let band = StrikeBand {
            from_ft: 6.0,
            to_ft: 10.0,
            strikes: vec![strike(0.1, 1.0, true), strike(-4.0, 12.0, false), strike(0.3, -2.0, false)],
            unmeasured: 0,
            misread: 0,
            stimp,
            near: edge(Feet::new(6.0).unwrap(), stimp),
            far: edge(Feet::new(10.0).unwrap(), stimp),
        };
        let svg = strikes(&about, &band);
        sound(&svg);
        let drawn =
            |class: &str| svg.split(&format!("class=\"{class}\" d=\"")).nth(1).unwrap().split('"').next().unwrap();
        assert_eq!((drawn("points").matches('M').count(), drawn("cross").matches('M').count()), (1, 2));
        assert!(drawn("window").ends_with('z') && drawn("near").ends_with('z'));
        for place in drawn("cross").split(['M', ' ', 'l', 'm', '-']).filter_map(|text| text.parse::<f64>().ok()) {
            assert!((0.0..=WIDTH).contains(&place), "{place}: {svg}");
        }
    }
}
