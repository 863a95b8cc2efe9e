//! What the derivation knows of a league beside the cards: members, tees, seasons, events, what was brought along.

use crate::facts::course::Layout;
use crate::facts::event::FinalMember;
use crate::facts::fit::{CardTerms, card_faults};
use crate::facts::handicap_act::in_effect;
use crate::facts::{
    Adjustment, CarriedDifferential, CarriedResult, Competition, Conceded, Decided, Event, EventEntry, Fault,
    FinalRecord, Fixture, HandicapAct, LineUp, Member, Round, Season, SideContest, Team, Tee,
};
use crate::ids::{CompetitionId, EventId, FixtureId, MemberId, SeasonId, TeamId, TeeId};
use crate::units::{AllowancePct, PlayingConditions};
use jiff::Timestamp;
use jiff::civil::Date;
use std::borrow::Cow;
use std::collections::{BTreeMap, HashMap, HashSet};
use uuid::Uuid;

/// An event with its place in time and, once final, what it keeps.
#[derive(Clone, Debug)]
pub struct Night {
    /// The event.
    pub id: EventId,
    /// Its season.
    pub season: SeasonId,
    /// The day on which it opens, in the league's time zone.
    pub date: Date,
    /// What was laid down.
    pub event: Event,
    /// What a final event keeps.
    pub kept: Option<FinalRecord>,
}

/// Where an event stands in the order of events: its date, its opening, its id.
pub type NightKey = (Date, Timestamp, EventId);

impl Night {
    /// Returns the event's place in the order of events.
    pub fn key(&self) -> NightKey {
        (self.date, self.event.opens_at, self.id)
    }
}

/// The league as the derivation sees it, cards apart.
#[derive(Clone, Debug, Default)]
pub struct Book {
    /// The members.
    pub members: BTreeMap<MemberId, Member>,
    /// Every tee of every course.
    pub tees: HashMap<TeeId, Tee>,
    /// The seasons.
    pub seasons: BTreeMap<SeasonId, Season>,
    /// The competitions, each with its season.
    pub competitions: BTreeMap<CompetitionId, (SeasonId, Competition)>,
    /// The events.
    pub nights: HashMap<EventId, Night>,
    /// Differentials from before the league came here.
    pub carried_differentials: HashMap<MemberId, Vec<CarriedDifferential>>,
    /// What organizers decided about members' indexes, in the order in which they did.
    pub handicap_acts: HashMap<MemberId, Vec<(Uuid, HandicapAct)>>,
    /// Values from before the league came here.
    pub carried_results: HashMap<SeasonId, Vec<CarriedResult>>,
    /// The teams, each with its season.
    pub teams: BTreeMap<TeamId, (SeasonId, Team)>,
    /// Who enters which competitions for an event, where these rank only who does.
    pub entered: HashSet<(EventId, CompetitionId, MemberId)>,
    /// Who plays for a team in an event.
    pub line_ups: BTreeMap<(EventId, TeamId), LineUp>,
    /// Who meets whom, each with its competition.
    pub fixtures: BTreeMap<FixtureId, (CompetitionId, Fixture)>,
    /// What was conceded in matches.
    pub concessions: BTreeMap<Uuid, Conceded>,
    /// Points that organizers gave or took, each with its competition.
    pub adjustments: BTreeMap<Uuid, (CompetitionId, Adjustment)>,
    /// The side contests, each with its event.
    pub contests: BTreeMap<Uuid, (EventId, SideContest)>,
}

impl Book {
    /// Returns what organizers decided about a member's index that was not undone, by day.
    pub fn decided_of(&self, member: MemberId) -> Vec<Decided> {
        self.handicap_acts.get(&member).map(|acts| in_effect(acts)).unwrap_or_default()
    }

    /// Returns a season's events in their order.
    pub fn nights_of(&self, season: SeasonId) -> Vec<&Night> {
        let mut nights: Vec<&Night> = self.nights.values().filter(|night| night.season == season).collect();
        nights.sort_by_key(|night| night.key());
        nights
    }

    /// Returns a season's competitions by position.
    pub fn competitions_of(&self, season: SeasonId) -> Vec<(CompetitionId, &Competition)> {
        let of = self.competitions.iter().filter(|(_, (of, _))| *of == season);
        let mut found: Vec<_> = of.map(|(id, (_, competition))| (*id, competition)).collect();
        found.sort_by_key(|(id, competition)| (competition.position, *id));
        found
    }

    /// Returns the main competition of a season: the first that ranks cards.
    pub fn main_of(&self, season: SeasonId) -> Option<CompetitionId> {
        self.competitions_of(season).into_iter().find(|(_, terms)| terms.ranks_cards()).map(|(id, _)| id)
    }

    /// Returns the competition that an event's cards go by: the first that ranks cards and counts the event.
    pub fn main_for(&self, night: &Night) -> Option<CompetitionId> {
        let counts =
            |id| self.terms(night, id).is_some_and(|terms| terms.ranks_cards() && terms.counts_event(night.id));
        self.competitions_of(night.season).into_iter().map(|(id, _)| id).find(|id| counts(*id))
    }

    /// Returns the teams of a season, in the order in which they were made.
    pub fn teams_of(&self, season: SeasonId) -> impl Iterator<Item = (TeamId, &Team)> {
        self.teams.iter().filter(move |(_, (of, _))| *of == season).map(|(id, (_, team))| (*id, team))
    }

    /// Returns the fixtures of a competition, in the order in which they were made.
    pub fn fixtures_of(&self, competition: CompetitionId) -> impl Iterator<Item = (FixtureId, &Fixture)> {
        self.fixtures.iter().filter(move |(_, (of, _))| *of == competition).map(|(id, (_, fixture))| (*id, fixture))
    }

    /// Returns the fixtures of an event, in whichever competition.
    pub fn fixtures_in(&self, event: EventId) -> impl Iterator<Item = (FixtureId, CompetitionId, &Fixture)> {
        let all = self.fixtures.iter().map(|(id, (of, fixture))| (*id, *of, fixture));
        all.filter(move |(.., fixture)| fixture.event_id == event)
    }

    /// Returns the terms of a competition as they hold for an event: kept ones once it is final.
    pub fn terms<'a>(&'a self, night: &'a Night, competition: CompetitionId) -> Option<&'a Competition> {
        let kept = night.kept.iter().flat_map(|kept| &kept.competitions);
        let kept = kept.map(|kept| (kept.competition_id, &kept.terms)).find(|(id, _)| *id == competition);
        let current = || {
            let found = self.competitions.get(&competition).filter(|(season, _)| *season == night.season);
            found.map(|(_, terms)| terms)
        };
        kept.map(|(_, terms)| terms).or_else(current)
    }

    /// Returns the terms that a card's own figures follow: those of the first competition that counts its event; without
    /// one, the whole course handicap is granted.
    pub fn main_terms<'a>(&'a self, night: &'a Night) -> Cow<'a, Competition> {
        match self.main_for(night).and_then(|id| self.terms(night, id)) {
            Some(terms) => Cow::Borrowed(terms),
            None => Cow::Owned(Competition {
                allowance_pct: AllowancePct::new(100).ok(),
                ..Competition::usual(String::new())
            }),
        }
    }

    /// Returns whether a member's card is ranked by a competition, its flight apart: where that goes by entry, if it entered;
    /// elsewhere unless it is a guest's.
    pub fn is_ranked(&self, event: EventId, (id, terms): (CompetitionId, &Competition), member: MemberId) -> bool {
        if terms.field.by_entry { self.entered.contains(&(event, id, member)) } else { !self.is_guest(member) }
    }

    /// Returns whether a member is a guest.
    pub fn is_guest(&self, member: MemberId) -> bool {
        self.members.get(&member).is_some_and(|member| member.guest)
    }

    /// Returns whether a competition shows a member's card: where it goes by entry, if it entered.
    pub fn is_entered(&self, event: EventId, (id, terms): (CompetitionId, &Competition), member: MemberId) -> bool {
        !terms.field.by_entry || self.entered.contains(&(event, id, member))
    }

    /// Returns the values that were brought along into the table of a competition.
    pub fn carried_into(&self, season: SeasonId, id: CompetitionId) -> impl Iterator<Item = &CarriedResult> {
        let main = self.main_of(season);
        let all = self.carried_results.get(&season).into_iter().flatten();
        all.filter(move |carried| carried.competition_id.or(main) == Some(id))
    }

    /// Takes in an entry.
    pub fn enter(&mut self, event: EventId, member: MemberId, entry: &EventEntry) {
        self.entered.extend(entry.competitions.iter().map(|competition| (event, *competition, member)));
    }

    /// Returns the holes that an event plays from a tee.
    pub fn layout(&self, night: &Night, tee: TeeId) -> Option<Layout> {
        let kept = night.kept.as_ref().and_then(|kept| kept.tees.iter().find(|kept| kept.id == tee));
        kept.or_else(|| self.tees.get(&tee))?.layout(night.event.holes, night.event.first_hole)
    }

    /// Finds every way in which a card does not fit itself or its event.
    pub fn card_faults(&self, night: &Night, round: &Round) -> Vec<Fault> {
        let Some(season) = self.seasons.get(&night.season) else { return Vec::new() };
        let Some(layout) = self.layout(night, night.event.tee_id) else { return Vec::new() };
        card_faults(round, CardTerms { layout: &layout, concession_ft: season.concession_ft })
    }

    /// Returns the lowest par among the tees of an event.
    pub fn lowest_par(&self, night: &Night) -> Option<i32> {
        night.event.tee_ids().into_iter().filter_map(|tee| self.layout(night, tee)).map(|layout| layout.par()).min()
    }

    /// Returns what the earliest final event of a season keeps of a member.
    pub fn kept_member(&self, season: SeasonId, member: MemberId) -> Option<&FinalMember> {
        let kept = |night: &&Night| night.season == season && night.kept_of(member).is_some();
        self.nights.values().filter(kept).min_by_key(|night| night.key())?.kept_of(member)
    }
}

impl Night {
    /// Returns the day's adjustment.
    pub fn playing_conditions(&self) -> PlayingConditions {
        self.kept.as_ref().map_or(self.event.playing_conditions, |kept| kept.playing_conditions)
    }

    /// Returns what a final event keeps of a member who played in it.
    pub fn kept_of(&self, member: MemberId) -> Option<&FinalMember> {
        self.kept.as_ref()?.members.iter().find(|kept| kept.member_id == member)
    }

    /// Returns what a final event keeps of a member who was to play in it and has no card.
    pub fn kept_of_absent(&self, member: MemberId) -> Option<&FinalMember> {
        self.kept.as_ref()?.absent.iter().find(|kept| kept.member_id == member)
    }
}
