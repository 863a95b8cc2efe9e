//! A season on the level: a tick for each night, and a ball that rests on the present one.

use std::fmt::Write as _;

const FROM: f64 = 12.0;
const TO: f64 = 346.0;

/// Draws `nights` nights; `at` is the place of the present one, from 0.
pub fn season(nights: usize, at: usize) -> String {
    let said = format!("Night {} of {nights}", at + 1);
    let mut svg = format!("<svg class=\"chart season\" viewBox=\"0 0 358 34\" role=\"img\" aria-label=\"{said}\">");
    let apart = (TO - FROM) / (nights.max(2) - 1) as f64;
    let x = |night: usize| FROM + apart * night as f64;
    for night in (0..nights).filter(|night| *night != at) {
        let class = if night < at { "night" } else { "later" };
        let _ = write!(svg, "<path class=\"{class}\" d=\"M{:.0} 23v7\"/>", x(night));
    }
    let _ = write!(
        svg,
        "<path class=\"line\" d=\"M4 22h350\"/><circle class=\"ball\" cx=\"{:.0}\" cy=\"14\" r=\"6\"/></svg>",
        x(at)
    );
    svg
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Three nights of five are behind: three ticks before the ball, one after it.
    #[test]
    fn the_ball_rests_on_the_present_night() {
        let svg = season(5, 3);
        assert!(svg.contains("aria-label=\"Night 4 of 5\""), "{svg}");
        assert_eq!((svg.matches("class=\"night\"").count(), svg.matches("class=\"later\"").count()), (3, 1));
        assert!(svg.contains("cx=\"262\""), "{svg}");
        assert!(season(1, 0).contains("cx=\"12\""), "a season of one night is drawn too");
    }
}
