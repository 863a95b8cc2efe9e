//! The share of putts made by distance, beside what a baseline makes.

use super::svg::{SCALE, Scale, Svg, WIDTH, Words, polyline};
use crate::domain::putting::picture::MadeShare;

const HEIGHT: f64 = 260.0;
const TOP: f64 = 28.0;
/// The distances that the axis names, in feet.
const NAMED_FT: [f64; 7] = [1.0, 3.0, 6.0, 10.0, 20.0, 30.0, 50.0];

/// Draws the baseline's curve and a dot with its interval a band, at the mean distance of its putts.
///
/// # Shape
/// Distances stand at their square roots, so that the short ones, where most putts are, have room.
pub fn made(about: &Words, curve: &[(f64, f64)], bands: &[MadeShare]) -> String {
    let distances = curve.iter().map(|(distance, _)| *distance).chain(bands.iter().map(|band| band.mean_ft));
    let x = Scale::over(distances.clone().map(f64::sqrt), SCALE + 8.0, WIDTH - 16.0);
    let farthest = distances.fold(0.0, f64::max);
    let y = Scale { low: 0.0, high: 1.0, from: HEIGHT - 38.0, to: TOP };
    let mut svg = Svg::new(about, HEIGHT);
    for share in [0.0, 0.25, 0.5, 0.75, 1.0] {
        svg.line("faint", (SCALE, y.at(share)), (WIDTH - 8.0, y.at(share)));
        svg.text("scale", (SCALE - 6.0, y.at(share) + 4.0), &format!("{:.0}", 100.0 * share));
    }
    for distance in NAMED_FT.into_iter().filter(|distance| *distance <= farthest && distance.sqrt() >= x.low) {
        let at = x.at(distance.sqrt());
        svg.line("faint", (at, HEIGHT - 38.0), (at, HEIGHT - 32.0));
        svg.text("tick", (at, HEIGHT - 16.0), &format!("{distance} ft"));
    }
    svg.text("label", (0.0, 12.0), "made, %");
    svg.path("curve", &polyline(curve.iter().map(|(distance, share)| (x.at(distance.sqrt()), y.at(*share)))));
    for band in bands {
        let at = x.at(band.mean_ft.sqrt());
        let share = |pct: Option<f64>| y.at(pct.unwrap_or(0.0) / 100.0);
        svg.line("interval", (at, share(band.band.made_low_pct)), (at, share(band.band.made_high_pct)));
        svg.dot((at, share(band.band.made_pct)));
    }
    svg.end()
}

#[cfg(test)]
mod tests {
    use super::super::svg::tests::{places, sound};
    use super::*;
    use crate::domain::putting::band::Band;

    #[test]
    fn a_dot_lies_at_its_share_and_its_interval_holds_it() {
        let about = Words { id: "made", title: "Made", description: "By distance" };
        let (made_pct, made_low_pct, made_high_pct) = (Some(50.0), Some(24.0), Some(76.0));
        let band = Band { putts: 10, made: 5, made_pct, made_low_pct, made_high_pct, ..Band::default() };
        let band = MadeShare { mean_ft: 4.0, band };
        let svg = made(&about, &[(1.0, 0.99), (4.0, 0.85), (9.0, 0.45)], &[band]);
        sound(&svg);
        let (dot, middle) = (places(&svg, &["cy"])[0], (HEIGHT - 38.0 + TOP) / 2.0);
        assert!((dot - middle).abs() < 0.1, "half of the putts lie half way up: {dot}");
        // 1, 4 and 9 ft stand evenly: at 1, 2 and 3
        assert!((places(&svg, &["cx"])[0] - (SCALE + 8.0 + WIDTH - 16.0) / 2.0).abs() < 0.1);
        sound(&made(&about, &[], &[]));
    }
}
