//! Why things are as they are: a result step by step, what was done to a round, what moved a table.

use super::names::Names;
use super::{Frame, page};
use crate::domain::facts::Season;
use crate::domain::ids::{MemberId, RoundId, SeasonId};
use crate::domain::season::working::Working;
use crate::http::address::{IdPath, QueryOf};
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::league::Caller;
use crate::league::round::history::{Difference, Happening};
use crate::league::season::changes::ChangeView;
use crate::league::views::RoundView;
use crate::pages::words;
use crate::storage::documents::SEASONS;
use actix_web::web::{self, Data, ServiceConfig};
use askama::Template;
use serde::{Deserialize, Serialize};
use serde_json::Value;
use uuid::Uuid;

/// How many changes one page shows.
const MOST: i64 = 200;

#[derive(Template)]
#[template(path = "why.html")]
struct WhyPage {
    frame: Frame,
    player: String,
    round: RoundView,
    working: Working,
    history: Vec<Happening>,
    names: Names,
}

/// Writes a value of a working: a number, a number a hole, or nothing.
fn given(value: &impl Serialize) -> String {
    fn written(value: &Value) -> String {
        match value {
            Value::Null => words::MISSING.into(),
            Value::Array(items) => items.iter().map(written).collect::<Vec<_>>().join(" "),
            other => words::number(other),
        }
    }
    written(&serde_json::to_value(value).unwrap_or_default())
}

impl WhyPage {
    fn given(&self, value: &impl Serialize) -> String {
        given(value)
    }

    fn act(&self, happening: &Happening) -> &'static str {
        match happening.act {
            "handed_in" => "handed in",
            "attested" => "witnessed",
            "excluded" => "excluded",
            "reinstated" => "ruling undone",
            other => other,
        }
    }

    /// Says in words where a difference is and what it was.
    fn difference(&self, difference: &Difference) -> String {
        let mut parts = difference.pointer.split('/').skip(1);
        let place = match (parts.next(), parts.next().and_then(|index| index.parse::<usize>().ok())) {
            (Some("holes"), Some(index)) => {
                let number = self.round.holes.get(index).map(|hole| hole.number.get());
                let rest = parts.collect::<Vec<_>>().join(" ").replace('_', " ");
                format!("hole {} {rest}", words::or_missing(&number))
            }
            (name, _) => name.unwrap_or_default().replace('_', " "),
        };
        format!("{place}: {} changed to {}", given(&difference.from), given(&difference.to))
    }
}

async fn why(app: Data<App>, caller: Caller, id: IdPath) -> Answer {
    let id = RoundId(id.0);
    let (round, _) = app.leagues.round(caller, id).await?;
    let (player, _) = app.leagues.member(caller, round.member_id).await?;
    let frame = Frame::in_league(&app, caller, player.league_id).await?;
    let names = Names::of(&app, caller, player.league_id).await?;
    let (working, history) = (app.leagues.working(caller, id, None).await?, app.leagues.history(caller, id).await?);
    page(&WhyPage { frame, player: player.member.display_name, round, working, history, names })
}

/// A row that a change moved, as it was written down then.
#[derive(Deserialize)]
struct Move {
    member_id: MemberId,
    from: Standing,
    to: Standing,
}

/// Where a row stood.
#[derive(Deserialize)]
struct Standing {
    position: Option<u32>,
    total: Value,
}

/// A change of a table with the rows that it moved.
struct Change {
    view: ChangeView,
    moves: Vec<Move>,
}

#[derive(Template)]
#[template(path = "changes.html")]
struct ChangesPage {
    frame: Frame,
    season: SeasonId,
    name: String,
    changes: Vec<Change>,
    next: Option<Uuid>,
    names: Names,
}

impl ChangesPage {
    fn done(&self, view: &ChangeView) -> String {
        let kind = match view.kind.as_str() {
            "carried_result" => "result carried over",
            "carried_differential" => "differential carried over",
            "member" => "player",
            "round" => "card",
            other => other,
        };
        let done = match view.act.as_str() {
            "create" => "added",
            "remove" => "removed",
            "replace" => "changed",
            "erase" => "erased",
            "correct" => "corrected",
            "withdraw" => "withdrawn",
            "accept" => "accepted",
            "exclude_round" => "excluded by a ruling",
            "exclude_putts" => "putts excluded by a ruling",
            "void" => "made void",
            "count_again" => "counts again",
            "reinstate" => "ruling undone",
            other => other,
        };
        let said = format!("{kind}: {done}");
        said[..1].to_uppercase() + &said[1..]
    }

    /// Writes a total as it was when the table moved.
    fn total(&self, total: &Value) -> String {
        given(total)
    }
}

async fn changes(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf) -> Answer {
    let id = SeasonId(id.0);
    let season = app.leagues.document::<Season>(caller, &SEASONS, id.0).await?;
    let frame = Frame::in_league(&app, caller, season.league).await?;
    let after = query.id("after")?.unwrap_or_default();
    let found = app.leagues.standings_changes(caller, id, after, MOST).await?;
    let next = (found.len() as i64 == MOST).then(|| found.last().map(|change| change.id)).flatten();
    let changes = found.into_iter().map(|view| {
        let moves = serde_json::from_value(view.moves.clone()).unwrap_or_default();
        Change { view, moves }
    });
    let names = Names::of(&app, caller, season.league).await?;
    page(&ChangesPage { frame, season: id, name: season.body.name, changes: changes.collect(), next, names })
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    config
        .service(web::resource("/rounds/{id}/working").route(super::reads().to(why)))
        .service(web::resource("/seasons/{id}/changes").route(super::reads().to(changes)));
}
