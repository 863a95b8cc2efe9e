//! Simulated players, whose line, pace and set-up are known, for tests and benches of the putting report.

#![allow(dead_code, reason = "no program uses all of it")]

pub mod advised;
pub mod audit;
pub mod recovery;

use evenfield::domain::facts::{Putt, PuttResult};
use evenfield::domain::ids::SetupId;
use evenfield::domain::putting::baseline::Baseline;
use evenfield::domain::putting::capture::capture;
use evenfield::domain::putting::struck::Struck;
use evenfield::domain::putting::sums::band_of;
use evenfield::domain::putting::{gained, roll};
use evenfield::domain::units::{Degrees, Feet, Inches, Mph, OutOfRange, Overrun, Stimp};
use uuid::Uuid;

/// The set-up that every simulated putt was struck on.
pub const SETUP: SetupId = SetupId(Uuid::from_u128(1));

/// What is known about a simulated player.
#[derive(Clone, Copy, Debug)]
pub struct Player {
    /// Mean and standard deviation of the start line in degrees.
    pub line: (f64, f64),
    /// Mean and standard deviation of rolled ÷ meant − 1.
    pub pace: (f64, f64),
    /// Standard deviation of the read in degrees: it shows in where the ball goes, never in the record.
    pub read_sd: f64,
    /// Recorded speed over true speed.
    pub speed_ratio: f64,
    /// The error of the stop that no record explains: a share of the roll and feet.
    pub stop_error: (f64, f64),
    /// The slowest green and how much quicker the quickest is, in feet.
    pub stimps_ft: (f64, f64),
    /// The share of recorded speeds that are nonsense.
    pub absurd_share: f64,
    /// What line, pace and read are multiplied with in each band of a putting report.
    pub by_band: [[f64; 9]; 3],
}

/// A stream of random numbers: SplitMix64 (from memory).
pub struct Random(pub u64);

impl Random {
    /// Returns a number from 0 to 1, both excluded.
    pub fn uniform(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        (((z ^ (z >> 31)) >> 11) as f64 + 0.5) / (1u64 << 53) as f64
    }

    /// Returns a standard normal number (Box and Muller).
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * self.uniform().ln()).sqrt();
        radius * (2.0 * std::f64::consts::PI * self.uniform()).cos()
    }
}

impl Player {
    /// Plays holes until `putts` are struck; the last hole is finished. Returns the putts and the number of holes.
    pub fn play(&self, putts: usize, random: &mut Random) -> Result<(Vec<Struck>, u32), OutOfRange> {
        let (mut struck, mut holes) = (Vec::with_capacity(putts + 10), 0);
        while struck.len() < putts {
            holes += 1;
            let stimp = Stimp::new(self.stimps_ft.0 + self.stimps_ft.1 * random.uniform())?;
            let mut left = Some(Feet::new(3.0 + 40.0 * random.uniform() * random.uniform())?);
            let mut hole = Vec::new();
            while let Some(distance) = left {
                let (putt, next) = self.putt(distance, stimp, hole.len() + 1, random)?;
                hole.push(putt);
                left = next;
            }
            let ended: Vec<_> = hole.iter().map(|putt| (putt.distance_ft, putt.result)).collect();
            let gains = gained::hole(&ended, Baseline::tour());
            for (n, (putt, gain)) in hole.iter().zip(gains).enumerate() {
                let leave_ft = hole.get(n + 1).map(|next| next.distance_ft);
                struck.push(Struck { setup: Some(SETUP), stimp, putt: *putt, leave_ft, gain });
            }
        }
        Ok((struck, holes))
    }

    fn putt(
        &self,
        distance: Feet,
        stimp: Stimp,
        number: usize,
        random: &mut Random,
    ) -> Result<(Putt, Option<Feet>), OutOfRange> {
        let band = usize::from(band_of(distance));
        let [line_sd, pace_sd, read_sd] =
            [(0, self.line.1), (1, self.pace.1), (2, self.read_sd)].map(|(n, sd)| sd * self.by_band[n][band]);
        let elevation =
            Inches::new((0.1 * distance.get() * random.normal()).clamp(-6.0, 6.0).max(-0.3 * distance.get()))?;
        let none = Overrun::new(0.0)?;
        let plays_like = roll::pace(distance, stimp, elevation, none).map_or(distance.get(), |pace| pace.plays_like_ft);
        let rolled = ((plays_like + 1.0) * (1.0 + self.pace.0 + pace_sd * random.normal())).clamp(0.3, 199.0);
        let level = Inches::new(0.0)?;
        let speed = |feet: f64| -> Result<f64, OutOfRange> {
            Ok(roll::pace(Feet::new(feet)?, stimp, level, none).map_or(1.0, |pace| pace.ball_speed_mph))
        };
        let line = (self.line.0 + line_sd * random.normal()).clamp(-40.0, 40.0);
        let sent = (line + read_sd * random.normal()).clamp(-40.0, 40.0);
        let (share, feet) = self.stop_error;
        let stop = (rolled + (share * rolled).hypot(feet) * random.normal()).clamp(0.2, 199.0);
        let holed = capture(
            Degrees::new(sent)?,
            distance,
            // the speed that stops there on this slope
            Mph::new(speed(stop)?)?,
            stimp,
            elevation,
        )
        .holed;
        let recorded = if random.uniform() < self.absurd_share {
            0.5 + 20.0 * random.uniform()
        } else {
            self.speed_ratio * speed(rolled)?
        };
        let over = stop - plays_like;
        let along = if over > 0.0 { over } else { distance.get() * over / plays_like };
        let leave = along.hypot(distance.get() * sent.to_radians().tan());
        // the nearest tenth of a foot, as a simulator shows it
        let left = (10.0 * leave).round().max(1.0) / 10.0;
        let result = match (holed, number) {
            (true, _) => PuttResult::Holed,
            (false, 5..) => PuttResult::Conceded,
            (false, _) => PuttResult::Missed,
        };
        let putt = Putt {
            distance_ft: distance,
            elevation_in: Some(elevation),
            ball_speed_mph: Some(Mph::new(recorded.min(40.0))?),
            start_line_deg: Some(Degrees::new(line)?),
            played_line_deg: None,
            result,
        };
        Ok((putt, if result == PuttResult::Missed { Some(Feet::new(left.min(200.0))?) } else { None }))
    }
}

/// Returns players of several kinds.
pub fn players() -> [(&'static str, Player); 4] {
    let tidy = Player {
        line: (0.1, 0.9),
        pace: (0.03, 0.08),
        read_sd: 0.5,
        speed_ratio: 1.0,
        stop_error: (0.02, 0.2),
        stimps_ft: (9.0, 4.0),
        absurd_share: 0.0,
        by_band: [[1.0; 9]; 3],
    };
    [
        ("tidy, true speeds", tidy),
        (
            "wild, speeds 4 % high",
            Player { line: (-0.4, 1.8), pace: (-0.05, 0.15), read_sd: 0.9, speed_ratio: 1.04, ..tidy },
        ),
        ("tidy, speeds 8 % low, 1 % absurd", Player { speed_ratio: 0.92, absurd_share: 0.01, ..tidy }),
        ("tidy, stops off by 3 % and nothing else", Player { stop_error: (0.03, 0.0), speed_ratio: 1.02, ..tidy }),
    ]
}
