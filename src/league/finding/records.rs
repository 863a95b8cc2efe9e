//! The records behind a finding, to take away and check.

use crate::domain::ids::{LeagueId, MemberId, RoundId, SeasonId, SetupId};
use crate::league::finding::read::{Seated, behind, seated};
use crate::league::{Caller, Leagues, Refusal};
use crate::storage::Conn;
use crate::storage::rounds::RoundRow;
use crate::wire::bundle::line::Line;
use std::collections::BTreeSet;
use tokio::sync::mpsc;
use uuid::Uuid;

/// Whose records are taken, and which.
pub struct Records {
    /// The finding.
    pub finding: Uuid,
    /// Its season.
    pub season: SeasonId,
    /// The rounds.
    pub rounds: BTreeSet<RoundId>,
    /// Their players.
    pub members: BTreeSet<MemberId>,
    /// What they were putted on.
    pub setups: BTreeSet<SetupId>,
}

impl Records {
    /// Keeps of a league's line what belongs to the records.
    fn keep(&self, line: Line) -> Option<Line> {
        match line {
            Line::League(_) | Line::Course(_) => Some(line),
            Line::Member(line) if self.members.contains(&line.ids.id) => Some(Line::Member(line)),
            Line::Setup(mut line) if self.setups.contains(&line.ids.id) => {
                line.ids.member_id = line.ids.member_id.filter(|owner| self.members.contains(owner));
                // Whoever does not own it may still have putted on it.
                line.body.shared |= line.ids.member_id.is_none();
                Some(Line::Setup(line))
            }
            Line::Season(line) if line.ids.id == self.season => Some(Line::Season(line)),
            Line::Event(mut line) if line.ids.season_id == self.season => {
                line.body.tees.retain(|tee| tee.member_id.is_none_or(|member| self.members.contains(&member)));
                line.versions.clear();
                Some(Line::Event(line))
            }
            Line::Competition(line) if line.ids.season_id == self.season => Some(Line::Competition(line)),
            Line::Round(mut line) if self.rounds.contains(&line.ids.id) => {
                line.body.came_in.sent_by = line.body.came_in.sent_by.filter(|by| self.members.contains(by));
                Some(Line::Round(line))
            }
            Line::Acceptance(mut line) if self.rounds.contains(&line.ids.round_id) => {
                line.ids.member_id = line.ids.member_id.filter(|by| self.members.contains(by));
                Some(Line::Acceptance(line))
            }
            Line::FindingOpened(mut line) if line.ids.id == self.finding => {
                line.body.concerned.retain(|known| self.members.contains(&known.member_id));
                let is_about_other = line.body.member_id.is_some_and(|member| !self.members.contains(&member));
                (!is_about_other).then_some(Line::FindingOpened(line))
            }
            _ => None,
        }
    }
}

/// Names the records behind a finding that the caller may take away.
///
/// # Errors
/// A finding that is not the caller's to know of.
async fn seen_rounds(
    leagues: &Leagues,
    conn: &mut Conn,
    caller: Caller,
    id: Uuid,
) -> Result<(LeagueId, Records), Refusal> {
    let Seated { finding, seat, .. } = seated(conn, caller, id).await?;
    let book = leagues.books.of(conn, finding.league).await?;
    let own = seat.id();
    let rows = behind(conn, &book, &finding).await?.rows.into_iter();
    let rows: Vec<RoundRow> = rows.filter(|row| seat.sees_all() || Some(row.member) == own).collect();
    let records = Records {
        finding: id,
        season: finding.opened.season,
        rounds: rows.iter().map(|row| row.id).collect(),
        members: rows.iter().map(|row| row.member).collect(),
        setups: rows.iter().filter_map(|row| row.setup).collect(),
    };
    Ok((finding.league, records))
}

impl Leagues {
    /// Reads the records behind a finding as a bundle that `report` reads: for somebody concerned its own ones.
    ///
    /// # Errors
    /// A finding that is not the caller's to know of.
    pub async fn records(&self, caller: Caller, id: Uuid) -> Result<String, Refusal> {
        let (league, records) = {
            let mut conn = self.database.reader().await?;
            conn.begin_read().await?;
            seen_rounds(self, &mut conn, caller, id).await?
        };
        let (sender, mut receiver) = mpsc::channel(64);
        let this = self.clone();
        let export = tokio::spawn(async move { this.export(league, sender).await });
        let mut text = String::new();
        while let Some(line) = receiver.recv().await {
            if let Some(line) = records.keep(line) {
                text.push_str(&line.to_json());
                text.push('\n');
            }
        }
        export.await.map_err(|_| Refusal::NotFound)??;
        Ok(text)
    }
}
