//! Strokes gained by distance over and under a level line, with the range to practise ringed.

use super::svg::{SCALE, Scale, Svg, WIDTH, Words};
use crate::domain::putting::band::{Band, FEWEST_FOR_INTERVAL};
use crate::pages::words;

const HEIGHT: f64 = 220.0;
const TOP: f64 = 30.0;
const BOTTOM: f64 = HEIGHT - 34.0;

/// Draws what was gained in a round by first and later putts of each band, from the nearest to the farthest with a putt.
///
/// # Shape
/// `ringed`: the edges of the range to practise, in feet; without a ring where it is every distance or none.
pub fn level(about: &Words, bands: &[Band], ringed: Option<(f64, f64)>) -> String {
    let shown = bands.iter().rposition(|band| band.putts > 0).map_or(&bands[..0], |last| &bands[..=last]);
    let ends = |band: &Band| [band.low_per_round, band.strokes_gained_per_round, band.high_per_round];
    let drawn = shown.iter().filter(|band| band.putts >= FEWEST_FOR_INTERVAL);
    let y = Scale::over(drawn.clone().flat_map(ends).flatten().chain([0.0]), BOTTOM, TOP);
    let step = (WIDTH - SCALE - 16.0) / shown.len().max(1) as f64;
    let x = |n: usize| SCALE + step * n as f64;
    let mut svg = Svg::new(about, HEIGHT);
    svg.text("label", (0.0, 12.0), "strokes gained per round");
    let (ticks, decimals) = y.ticks(3.0);
    for tick in ticks {
        let class = if tick == 0.0 { "zero" } else { "faint" };
        svg.line(class, (SCALE, y.at(tick)), (WIDTH - 8.0, y.at(tick)));
        svg.text("scale", (SCALE - 6.0, y.at(tick) + 4.0), &words::signed(&tick, decimals));
    }
    for (n, band) in shown.iter().enumerate() {
        edge(&mut svg, x(n), &band.from_ft.to_string());
        let middle = x(n) + 0.5 * step;
        let (Some(low), Some(gained), Some(high)) =
            (band.low_per_round, band.strokes_gained_per_round, band.high_per_round)
        else {
            continue;
        };
        svg.line("interval", (middle, y.at(low)), (middle, y.at(high)));
        svg.dot((middle, y.at(gained)));
        if ringed == Some((band.from_ft, band.to_ft)) {
            svg.ring((middle, y.at(gained)));
            let is_left = n * 2 < shown.len();
            let (class, at) = if is_left { ("act", middle + 15.0) } else { ("act end", middle - 15.0) };
            svg.text(class, (at, y.at(gained) + 4.0), "practise here");
        }
    }
    if let Some(last) = shown.last() {
        edge(&mut svg, x(shown.len()), &last.to_ft.to_string());
    }
    svg.end()
}

fn edge(svg: &mut Svg, x: f64, feet: &str) {
    svg.line("edge", (x, BOTTOM + 4.0), (x, BOTTOM + 10.0));
    svg.text("tick", (x, BOTTOM + 25.0), feet);
}

#[cfg(test)]
mod tests {
    use super::super::svg::tests::{places, sound};
    use super::*;

    fn band(from_ft: f64, to_ft: f64, putts: u32, gained: f64) -> Band {
        let told = (putts >= FEWEST_FOR_INTERVAL).then_some(gained);
        Band {
            from_ft,
            to_ft,
            putts,
            strokes_gained_per_round: Some(gained),
            low_per_round: told.map(|gained| gained - 0.3),
            high_per_round: told.map(|gained| gained + 0.2),
            ..Band::default()
        }
    }

    #[test]
    fn the_ring_lies_around_the_dot_of_the_range_to_practise() {
        let about = Words { id: "level", title: "Strokes gained", description: "By distance" };
        let bands =
            [band(0.0, 3.0, 90, 0.1), band(3.0, 5.0, 4, -2.0), band(5.0, 7.0, 30, -0.5), band(7.0, 10.0, 0, 0.0)];
        let svg = level(&about, &bands, Some((5.0, 7.0)));
        sound(&svg);
        let circles = places(&svg, &["cy"]);
        // a band of four putts has no dot, and one without putts has no place
        assert_eq!(circles.len(), 3, "{svg}");
        assert_eq!(circles[1], circles[2], "ring and dot are one: {svg}");
        assert_eq!((svg.matches("class=\"ring\"").count(), svg.matches("practise here").count()), (1, 1));
        assert!(!svg.contains(">10<") && svg.contains(">7<"), "{svg}");
        for none in [None, Some((0.0, 200.0))] {
            assert!(!level(&about, &bands, none).contains("ring"));
        }
        sound(&level(&about, &[], None));
    }
}
