//! A card from a file: choose it, say what its columns are, look at what it gives, and fill the card in.
//!
//! The file travels with the form, so that nothing is kept before the player hands the card in. What was said of the
//! columns is remembered for the set-up.

use super::card_text::strokes_of;
use super::form::Form;
use super::hand_in::{self, HandInPage};
use super::upload::Upload;
use super::{Frame, page, page_with, see_other};
use crate::domain::ids::{EventId, LeagueId, MemberId, SetupId};
use crate::http::address::{IdPath, QueryOf};
use crate::http::answer::Answer;
use crate::http::app::App;
use crate::http::problem::Problem;
use crate::league::event::entry_sheet::{EntrySheet, SheetSetup};
use crate::league::member::file_columns::{FOR_OTHERS, FileColumn, FileColumns};
use crate::league::views::RoundView;
use crate::league::{Caller, Refusal};
use crate::wire::card_file::card::{ReadRow, Reading, column_faults, read};
use crate::wire::card_file::cells::Said;
use crate::wire::card_file::meaning::{CHOICES, Choice, Meaning};
use crate::wire::card_file::table::{Separator, Table, text_of};
use actix_web::http::StatusCode;
use actix_web::web::{self, Data, ServiceConfig};
use askama::Template;
use uuid::Uuid;

/// How many values of a column are shown beside its name.
const SHOWN_VALUES: usize = 3;
/// How many rows are shown as they will be stored.
const SHOWN_ROWS: usize = 8;
/// How many rows are listed that cannot be taken.
const SHOWN_BAD: usize = 100;

#[derive(Template)]
#[template(path = "bring_file.html")]
struct PickPage {
    frame: Frame,
    event: EventId,
    name: String,
    player: Option<String>,
    query: String,
    setups: Vec<SheetSetup>,
    setup: String,
    pasted: String,
    fault: Option<(&'static str, String)>,
}

impl PickPage {
    fn of(shown: HandInPage) -> Self {
        let (player, query) = (shown.player().map(str::to_owned), shown.query());
        let HandInPage { frame, sheet, .. } = shown;
        let EntrySheet { event_id: event, name, setups, .. } = sheet;
        let (setup, pasted) = (String::new(), String::new());
        Self { frame, event, name, player, query, setups, setup, pasted, fault: None }
    }

    fn is_setup(&self, id: &SetupId) -> bool {
        self.setup == id.to_string()
    }

    fn fault_of(&self, field: &str) -> Option<&str> {
        self.fault.as_ref().filter(|(of, _)| *of == field).map(|(_, fault)| fault.as_str())
    }
}

/// Starts the card that a file fills in.
async fn start(
    app: &App,
    caller: Caller,
    id: IdPath,
    query: QueryOf,
) -> Result<(HandInPage, Option<RoundView>), Problem> {
    let member = query.given_id("member")?.map(MemberId);
    let (card, round) = hand_in::start(app, caller, EventId(id.0), member).await?;
    if card.may_bring() { Ok((card, round)) } else { Err(Refusal::Forbidden(FOR_OTHERS).into()) }
}

async fn pick(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf) -> Answer {
    let (card, round) = start(&app, caller, id, query).await?;
    if let Some(address) = card.elsewhere(round.as_ref()) {
        return Ok(see_other(&address));
    }
    let setup = card.setup.clone();
    page(&PickPage { setup, ..PickPage::of(card) })
}

/// A column of the file, as the form shows it.
struct Column {
    name: String,
    values: Vec<String>,
    meaning: Meaning,
}

#[derive(Template)]
#[template(path = "file_columns.html")]
struct ColumnsPage {
    frame: Frame,
    event: EventId,
    name: String,
    player: Option<String>,
    query: String,
    setup: String,
    label: Option<String>,
    text: String,
    table: Table,
    columns: Vec<Column>,
    /// What is wrong with the meanings of the columns.
    faults: Vec<String>,
    reading: Reading,
    /// Whether nothing was said of the columns on the form yet.
    is_first: bool,
    /// Whether what was said last for this set-up fits this file.
    is_remembered: bool,
    /// Whether the columns changed since the rows were looked at.
    is_unseen: bool,
}

/// A row of the table that shows what will be stored.
struct Shown {
    number: u64,
    is_bad: bool,
    cells: Vec<String>,
}

impl ColumnsPage {
    fn groups(&self) -> Vec<(&'static str, Vec<&'static Choice>)> {
        let mut groups: Vec<(&'static str, Vec<&'static Choice>)> = Vec::new();
        for choice in CHOICES {
            match groups.last_mut().filter(|(name, _)| *name == choice.group) {
                Some((_, choices)) => choices.push(choice),
                None => groups.push((choice.group, vec![choice])),
            }
        }
        groups
    }

    fn separators(&self) -> [(Separator, &'static str); 3] {
        Separator::ALL.map(|separator| (separator, separator.word()))
    }

    /// How the file was cut: what is said of its columns holds for this cut alone.
    fn cut(&self) -> String {
        cut(&self.table)
    }

    /// All that the shown rows follow from.
    fn seen(&self) -> String {
        let words: Vec<&str> = self.columns.iter().map(|column| column.meaning.word()).collect();
        format!("{} {} {}", self.cut(), words.join(" "), self.reading.round.as_deref().unwrap_or_default())
    }

    fn is_round(&self, round: &str) -> bool {
        self.reading.round.as_deref() == Some(round)
    }

    /// What the shown columns hold, with our units.
    fn heads(&self) -> Vec<&'static str> {
        FIELDS.iter().filter(|field| self.is_used(field)).map(|(head, _)| *head).collect()
    }

    fn is_used(&self, (_, write): &Field) -> bool {
        self.reading.rows.iter().any(|row| !write(row).is_empty())
    }

    fn first_rows(&self) -> Vec<Shown> {
        let shown = |row: &ReadRow| {
            let cells = FIELDS.iter().filter(|field| self.is_used(field)).map(|(_, write)| write(row));
            Shown { number: row.number, is_bad: !row.faults.is_empty(), cells: cells.collect() }
        };
        self.reading.rows.iter().take(SHOWN_ROWS).map(shown).collect()
    }

    fn bad_rows(&self) -> Vec<&ReadRow> {
        self.reading.bad().into_iter().take(SHOWN_BAD).collect()
    }

    fn more_bad(&self) -> usize {
        self.reading.bad().len().saturating_sub(SHOWN_BAD)
    }

    fn may_fill_in(&self) -> bool {
        self.faults.is_empty() && !self.reading.holes.is_empty()
    }
}

/// A column of what will be stored: its head, and how a row writes it.
type Field = (&'static str, fn(&ReadRow) -> String);

const FIELDS: [Field; 9] = [
    ("Hole", |row| said(row.hole, |hole| hole.get().to_string())),
    ("Strokes", |row| said(row.strokes, |said| strokes_of(said.strokes, said.picked_up))),
    ("Putts", |row| said(row.putt_count, |count| count.to_string())),
    ("From, ft", |row| row.putt.map_or_else(String::new, |putt| said(putt.distance_ft, |feet| feet.get().to_string()))),
    ("Rise, in", |row| {
        row.putt.map_or_else(String::new, |putt| said(putt.elevation_in, |rise| super::words::number(rise.get())))
    }),
    ("Ball speed, mph", |row| {
        row.putt.map_or_else(String::new, |putt| said(putt.ball_speed_mph, |speed| speed.get().to_string()))
    }),
    ("Start line", |row| row.putt.map_or_else(String::new, |putt| said(putt.start_line_deg, |line| side(line.get())))),
    ("Played line", |row| {
        row.putt.map_or_else(String::new, |putt| said(putt.played_line_deg, |line| side(line.get())))
    }),
    ("Result", |row| row.putt.map_or_else(String::new, |putt| said(putt.result, |result| result.word().to_owned()))),
];

fn said<T>(value: Said<T>, write: impl FnOnce(T) -> String) -> String {
    match value {
        Said::Nothing => String::new(),
        Said::Good(value) => write(value),
        Said::Bad => "?".into(),
    }
}

fn side(degrees: f64) -> String {
    match degrees {
        left if left < 0.0 => format!("{}° left", -left),
        right if right > 0.0 => format!("{right}° right"),
        _ => "0°".into(),
    }
}

fn cut(table: &Table) -> String {
    format!("{} {}", table.separator.word(), table.has_names)
}

/// Reads the chosen set-up.
///
/// # Errors
/// What to say of one that is not the player's to use.
fn chosen(card: &HandInPage, typed: &str) -> Result<Option<SetupId>, String> {
    if typed.is_empty() {
        return Ok(None);
    }
    let id = Uuid::try_parse(typed).ok().map(SetupId);
    let found = card.sheet.setups.iter().find(|setup| Some(setup.id) == id);
    let whose = card.player().map_or_else(|| "yours".to_owned(), |player| format!("{player}’s"));
    found.map(|setup| Some(setup.id)).ok_or_else(|| format!("this simulator is not {whose}: choose another"))
}

/// What a column was said to hold the last time: the one of that name, the one in that place before others.
fn known_meaning(known: &FileColumns, n: usize, name: &str) -> Option<Meaning> {
    let in_place = known.columns.get(n).filter(|column| column.name == name);
    let column = in_place.or_else(|| known.columns.iter().find(|column| column.name == name))?;
    Meaning::from_word(&column.meaning)
}

/// Cuts the file as it was cut the last time, if all the columns that were used then are there.
fn as_last_time(text: &str, known: &FileColumns) -> Option<Table> {
    let table = Table::read(text, Separator::from_word(&known.separator), Some(known.has_names)).ok()?;
    let mut used = known.columns.iter().filter(|column| !column.meaning.is_empty());
    used.all(|column| table.names.contains(&column.name)).then_some(table)
}

/// Cuts the file and takes what its columns hold from the form, else from the last time, else from names like our own.
fn columns(text: &str, form: &Form, known: Option<&FileColumns>) -> Result<(Table, Vec<Meaning>, bool), String> {
    let is_first = form.given("cut").is_none();
    let last_time = known.filter(|_| is_first).and_then(|known| as_last_time(text, known));
    let is_remembered = last_time.is_some();
    let table = match last_time {
        Some(table) => table,
        None => {
            let has_names = form.given("has_names").map(|typed| typed == "true");
            Table::read(text, Separator::from_word(form.text("separator")), has_names)
                .map_err(|error| error.to_string())?
        }
    };
    let is_typed = form.text("cut") == cut(&table);
    let meaning = |(n, name): (usize, &String)| {
        if is_typed {
            return Meaning::from_word(form.text(&format!("column_{n}"))).unwrap_or(Meaning::NotUsed);
        }
        known.and_then(|known| known_meaning(known, n, name)).unwrap_or_else(|| Meaning::of_own_name(name))
    };
    let meanings = table.names.iter().enumerate().map(meaning).collect();
    Ok((table, meanings, is_remembered))
}

/// A file, read under what its columns hold.
struct ReadFile {
    text: String,
    table: Table,
    meanings: Vec<Meaning>,
    is_remembered: bool,
    faults: Vec<String>,
    reading: Reading,
}

fn read_file(text: String, form: &Form, known: Option<&FileColumns>, played: &[u8]) -> Result<ReadFile, String> {
    let (table, meanings, is_remembered) = columns(&text, form, known)?;
    let faults = column_faults(&table.names, &meanings);
    let reading =
        if faults.is_empty() { read(&table, &meanings, form.given("round"), played) } else { Reading::default() };
    Ok(ReadFile { text, table, meanings, is_remembered, faults, reading })
}

async fn look(app: Data<App>, caller: Caller, id: IdPath, query: QueryOf, upload: Upload) -> Answer {
    let (card, _) = start(&app, caller, id, query).await?;
    let again = |card: HandInPage, field: &'static str, fault: String| {
        let (setup, pasted) = (upload.form.text("setup_id").to_owned(), upload.form.text("pasted").to_owned());
        let shown = PickPage { setup, pasted, fault: Some((field, fault)), ..PickPage::of(card) };
        page_with(StatusCode::UNPROCESSABLE_ENTITY, &shown)
    };
    let setup = match chosen(&card, upload.form.text("setup_id")) {
        Ok(setup) => setup,
        Err(fault) => return again(card, "setup_id", fault),
    };
    let (field, text) = match (&upload.file, upload.form.given("pasted")) {
        (Some(file), _) => ("file", text_of(file)),
        (None, Some(pasted)) => ("pasted", text_of(pasted.as_bytes())),
        (None, None) if upload.form.given("text").is_none() => {
            return again(card, "file", "choose a file, or paste its text".into());
        }
        // A browser sends line ends of its own, which count towards no limit.
        (None, None) => ("file", text_of(upload.form.text("text").replace("\r\n", "\n").as_bytes())),
    };
    let text = match text {
        Ok(text) => text,
        Err(fault) => return again(card, field, fault.to_string()),
    };
    let league = card.frame.league.as_ref().map(|place| place.id).ok_or_else(Problem::not_found)?;
    let known = match setup {
        Some(setup) => app.leagues.remembered_columns(caller, league, setup).await?,
        None => None,
    };
    let (form, played) = (upload.form.clone(), card.played());
    let file = match app.offload.run(move || read_file(text, &form, known.as_ref(), &played)).await? {
        Ok(file) => file,
        Err(fault) => return again(card, field, fault),
    };
    let mut shown = shown(&card, file, &upload.form);
    if upload.form.text("do") == "fill" && shown.may_fill_in() {
        if upload.form.text("seen") == shown.seen() {
            return fill_in(&app, caller, league, setup, card, &shown).await;
        }
        shown.is_unseen = true;
    }
    let label = card.sheet.setups.iter().find(|known| Some(known.id) == setup).map(|known| known.label.clone());
    page(&ColumnsPage { frame: card.frame, label, ..shown })
}

/// Shows a file as it was read.
fn shown(card: &HandInPage, file: ReadFile, form: &Form) -> ColumnsPage {
    let ReadFile { text, table, meanings, is_remembered, faults, reading } = file;
    let column = |(n, (name, meaning)): (usize, (&String, Meaning))| {
        let cells = table.rows.iter().filter_map(|row| row.cells.get(n)).filter(|cell| !cell.is_empty());
        Column { name: name.clone(), values: cells.take(SHOWN_VALUES).cloned().collect(), meaning }
    };
    let columns = table.names.iter().zip(meanings).enumerate().map(column).collect();
    ColumnsPage {
        frame: Frame::default(),
        event: card.sheet.event_id,
        name: card.sheet.name.clone(),
        player: card.player().map(str::to_owned),
        query: card.query(),
        setup: form.text("setup_id").to_owned(),
        label: None,
        text,
        columns,
        table,
        faults,
        reading,
        is_first: form.given("cut").is_none(),
        is_remembered,
        is_unseen: false,
    }
}

/// Remembers the columns for the set-up and shows the card as the file fills it in.
async fn fill_in(
    app: &App,
    caller: Caller,
    league: LeagueId,
    setup: Option<SetupId>,
    mut card: HandInPage,
    shown: &ColumnsPage,
) -> Answer {
    if let Some(setup) = setup {
        let column =
            |column: &Column| FileColumn { name: column.name.clone(), meaning: column.meaning.word().to_owned() };
        let columns = FileColumns {
            separator: shown.table.separator.word().to_owned(),
            has_names: shown.table.has_names,
            columns: shown.columns.iter().map(column).collect(),
        };
        app.leagues.remember_columns(caller, league, card.sheet.member_id, setup, columns).await?;
    }
    let nowhere = shown.reading.bad().into_iter().filter(|row| row.hole.good().is_none());
    let beside =
        nowhere.map(|row| format!("Row {} of the file belongs to no hole: {}", row.number, row.faults.join("; ")));
    let beside: Vec<String> = beside.take(SHOWN_BAD).collect();
    card.fill_in(&shown.reading, &shown.setup, beside);
    page(&card)
}

/// The routes of this file.
pub fn routes(config: &mut ServiceConfig) {
    let resource = web::resource("/events/{id}/bring-file");
    config.service(resource.route(super::reads().to(pick)).route(web::post().to(look)));
}
