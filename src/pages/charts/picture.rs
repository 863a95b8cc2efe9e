//! The picture of a finding.

use super::dots::{Dot, dots};
use super::scatter::Plane;
use super::svg::{SCALE, Scale, Shape, Svg, WIDTH, Words, crosses, escaped, points};
use crate::domain::audit::{Count, MadeBand, Picture};
use crate::domain::putting::share;

const HEIGHT: f64 = 340.0;
/// Where the shapes of a putt's distance change, in feet.
const NEAR_FT: f64 = 10.0;
const FAR_FT: f64 = 20.0;

/// Draws what a finding shows; `None` where there is nothing. Its figures stand in a table beside it.
pub fn picture(picture: &Picture) -> Option<String> {
    match picture {
        Picture::MadeByDistance(bands) if !bands.is_empty() => Some(made(bands)),
        Picture::Lines(lines) if !lines.is_empty() => Some(line_by_line(lines)),
        Picture::Counts(counts) if !counts.is_empty() => Some(parts(counts)),
        _ => None,
    }
}

fn made(bands: &[MadeBand]) -> String {
    let row = |band: &MadeBand| {
        let of = f64::from(band.putts);
        let over = |share: f64| (share - band.expected / of) * 100.0;
        Dot {
            label: format!("{}–{} ft ({})", band.from_ft, band.to_ft, band.putts),
            value: over(f64::from(band.made) / of),
            interval: share::interval(band.made, band.putts).map(|(low, high)| (over(low), over(high))),
            beside: band.others.map(over),
        }
    };
    let rows: Vec<Dot> = bands.iter().filter(|band| band.putts > 0).map(row).collect();
    let about = Words {
        id: "picture",
        title: "Putts made in a hundred, above or below what the same players' longer putts lead one to expect",
        description: "A dot a band of distance, its number of putts in brackets, with the 95 % interval of the share \
                      made; right of 0 more fell than expected. A hollow square is the season's field: what everybody \
                      else made in attested rounds; there is none where fewer than five others putted. The figures \
                      stand in the table of putts made by distance.",
    };
    dots(&about, &rows) + &said(&about)
}

fn line_by_line(lines: &[(f64, f64, f64)]) -> String {
    let about = Words {
        id: "picture",
        title: "Measured and played line of each putt",
        description: "Across the line that the sensor measured, upwards the line that the simulator played, in degrees \
                      to the right. Filled dots are putts of up to 10 ft, hollow ones of up to 20 ft, crosses longer \
                      ones. On the dashed line both are alike; on the level line at 0 the putt was played straight. \
                      Lines stand putt by putt in the table.",
    };
    let both = || lines.iter().flat_map(|(measured, played, _)| [*measured, *played]).chain([0.0]);
    let plane =
        Plane { x: Scale::over(both(), SCALE + 4.0, WIDTH - 10.0), y: Scale::over(both(), HEIGHT - 44.0, 24.0) };
    let mut svg = Svg::new(&about, HEIGHT);
    plane.draw(&mut svg, ("measured, degrees right", "played, degrees right"));
    svg.line("near", plane.at((plane.x.low, plane.x.low)), plane.at((plane.x.high, plane.x.high)));
    let within = |from: f64, to: f64| {
        let of_band = lines.iter().filter(move |(.., feet)| from < *feet && *feet <= to);
        of_band.map(|(measured, played, _)| plane.at((*measured, *played)))
    };
    svg.path("cross", &crosses(within(FAR_FT, f64::INFINITY)));
    for at in within(NEAR_FT, FAR_FT) {
        svg.mark(Shape::Dot, "hollow", at);
    }
    svg.path("points", &points(within(f64::NEG_INFINITY, NEAR_FT)));
    svg.end() + &said(&about)
}

/// Says how to read a picture beside it, too.
fn said(about: &Words) -> String {
    format!("<p class=\"small\">{}</p>", escaped(about.description))
}

fn parts(counts: &[Count]) -> String {
    let row = |count: &Count| Dot {
        label: format!("{} ({} of {})", count.label, count.part, count.of),
        value: 100.0 * f64::from(count.part) / f64::from(count.of),
        interval: share::interval(count.part, count.of).map(|(low, high)| (100.0 * low, 100.0 * high)),
        beside: None,
    };
    let rows: Vec<Dot> = counts.iter().filter(|count| count.of > 0).map(row).collect();
    let about = Words {
        id: "picture",
        title: "Parts in a hundred of their wholes",
        description: "A dot a count with the 95 % interval of its share. The numbers stand in the table of counts.",
    };
    dots(&about, &rows) + &said(&about)
}

#[cfg(test)]
mod tests {
    use super::super::svg::tests::{places, sound};
    use super::*;

    /// Draws a picture whose words stand below it.
    fn drawn_of(of: &Picture) -> String {
        let shown = picture(of).expect("a picture");
        let (svg, said) = shown.split_at(shown.find("<p class=").unwrap());
        assert!(said.len() > 40 && said.ends_with("</p>"), "{said}");
        svg.to_owned()
    }

    #[test]
    fn every_picture_of_a_finding_is_drawn() {
        let band =
            |from_ft, to_ft, putts, made, expected, others| MadeBand { from_ft, to_ft, putts, made, expected, others };
        let svg = drawn_of(&Picture::MadeByDistance(vec![
            band(5.0, 7.0, 20, 18, 10.0, Some(0.6)),
            band(7.0, 10.0, 0, 0, 0.0, Some(0.5)),
            band(10.0, 15.0, 10, 1, 3.0, None),
        ]));
        sound(&svg);
        assert_eq!(svg.matches("<circle").count(), 2, "a band without a putt has no dot: {svg}");
        assert_eq!(svg.matches("class=\"hollow\"").count(), 1, "where too few others putted there is no square: {svg}");
        let lines = vec![(1.4, 0.2, 8.0), (-0.9, -0.1, 15.0), (2.1, 2.1, 31.0), (0.4, 0.1, 4.0)];
        let svg = drawn_of(&Picture::Lines(lines));
        sound(&svg);
        let drawn =
            |class: &str| svg.split(&format!("class=\"{class}\" d=\"")).nth(1).unwrap().split('"').next().unwrap();
        assert_eq!((drawn("points").matches('M').count(), drawn("cross").matches('M').count()), (2, 1));
        assert_eq!(svg.matches("class=\"hollow\"").count(), 1);
        let svg = drawn_of(&Picture::Counts(vec![
            Count { label: "par or better", part: 30, of: 40 },
            Count { label: "worse", part: 0, of: 0 },
        ]));
        sound(&svg);
        assert_eq!(places(&svg, &["cx"]).len(), 1);
        for empty in [Picture::MadeByDistance(vec![]), Picture::Lines(vec![]), Picture::Counts(vec![])] {
            assert_eq!(picture(&empty), None);
        }
    }
}
