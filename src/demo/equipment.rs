//! The set-ups of the demo league: a few bays of a venue, and what some members have at home.

use super::DemoTerms;
use super::chance::Chance;
use super::people::{Person, VISITOR};
use super::putt::{Measuring, Softening};
use super::{Stream, draws, id};
use crate::domain::facts::{Sensor, Setup};
use crate::domain::ids::SetupId;

/// A set-up and how it measures.
#[derive(Clone, Debug)]
pub struct Equipment {
    /// Its id.
    pub id: SetupId,
    /// The place of its owner among the people; `None` for a bay of the venue.
    pub owner: Option<usize>,
    /// What is laid down about it.
    pub setup: Setup,
    /// How it measures.
    pub measuring: Measuring,
}

const HOMES: [&str; 6] = ["garage", "attic", "cellar", "spare room", "barn", "back office"];

/// Furnishes the league: the shared bays first, then each owner's own.
pub fn furnish(seed: u64, people: &[Person]) -> Vec<Equipment> {
    let bays = 3 + people.len() / 60;
    let mut equipment: Vec<Equipment> = (0..bays)
        .map(|bay| {
            let label = format!("Bay {}, the old bakery", bay + 1);
            make(seed, bay, None, label, [Sensor::Camera, Sensor::Radar, Sensor::Camera][bay % 3])
        })
        .collect();
    for (place, person) in people.iter().enumerate().filter(|(_, person)| person.owns_setup) {
        let n = equipment.len();
        let mut chance = draws(seed, Stream::Home, &[place as u64]);
        let given = person.member.display_name.split(' ').next().unwrap_or_default();
        let label = format!("{given}, {}", HOMES[chance.below(HOMES.len())]);
        let sensor = if place == VISITOR { Sensor::Camera } else { SENSORS[chance.below(SENSORS.len())] };
        equipment.push(make(seed, n, Some(place), label, sensor));
    }
    if people.len() <= DemoTerms::MAX_PLAYERS {
        plant(&mut equipment);
    }
    equipment
}

/// Plants what an organizer can look for: a bay that softens short putts a little without saying so, and a home whose
/// sensor misreads short putts.
fn plant(equipment: &mut [Equipment]) {
    if let Some(bay) = equipment.iter_mut().filter(|known| known.owner.is_none()).nth(2) {
        let softening = Some(Softening { radius_ft: 12.0, factor: 0.7 });
        bay.measuring = Measuring { softening, ..HONEST };
    }
    let mut homes = equipment.iter_mut().filter(|known| known.owner.is_some_and(|owner| owner != VISITOR));
    if let Some(home) = homes.next() {
        home.setup.sensor = Sensor::Radar;
        home.measuring = Measuring { misreads: 0.9, shows_speed: true, ..home.measuring };
    }
}

/// A set-up that shows everything as it is.
const HONEST: Measuring = Measuring {
    speed_ratio: 1.0,
    line_noise_deg: 0.08,
    shows_line: true,
    shows_played_line: true,
    shows_speed: true,
    softening: None,
    misreads: 0.0,
};

const SENSORS: [Sensor; 5] = [Sensor::Camera, Sensor::Camera, Sensor::Radar, Sensor::Infrared, Sensor::Other];

fn make(seed: u64, n: usize, owner: Option<usize>, label: String, sensor: Sensor) -> Equipment {
    let mut chance = draws(seed, Stream::Measuring, &[n as u64]);
    let notes = match sensor {
        Sensor::Camera if owner.is_none() => "Calibrated at the start of the season.",
        Sensor::Infrared => "Shows no ball speed for putts.",
        _ => "",
    };
    Equipment {
        id: id(seed, Stream::Setup, &[n as u64]).into(),
        owner,
        setup: Setup { label, sensor, shared: owner.is_none(), softening_radius_ft: None, notes: notes.to_owned() },
        measuring: measuring(&mut chance, sensor),
    }
}

/// Says how a set-up with that sensor measures: nothing is softened.
fn measuring(chance: &mut Chance, sensor: Sensor) -> Measuring {
    Measuring {
        speed_ratio: (1.0 + 0.012 * chance.normal()).clamp(0.96, 1.04),
        line_noise_deg: chance.between(0.05, 0.15),
        shows_line: sensor != Sensor::Other,
        shows_played_line: !matches!(sensor, Sensor::Radar | Sensor::Other),
        shows_speed: sensor != Sensor::Infrared,
        softening: None,
        misreads: 0.0,
    }
}
