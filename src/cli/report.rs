//! `evenfield report`: standings, league indexes and putting of a bundle, with no server and no database.

use crate::domain::audit::ledger::About;
use crate::domain::audit::title;
use crate::domain::competition::table::{ResultCell, StandingsRow};
use crate::domain::exact::Value;
use crate::domain::ids::{EventId, SeasonId, SetupId};
use crate::domain::putting::advice::{Certainty, Focus};
use crate::domain::putting::baseline::Yardstick;
use crate::domain::putting::report::PuttingReport;
use crate::domain::season::Book;
use crate::domain::season::findings::FindingReport;
use crate::domain::season::overview::{Asked, Overview, overview};
use crate::domain::season::putting::Chosen;
use crate::domain::units::AsHandicap;
use crate::wire::bundle::assemble::{Assembler, KeptPutts, latest_season};
use crate::wire::bundle::line::Line;
use anyhow::{Context, bail};
use clap::ValueEnum;
use indicatif::{ProgressBar, ProgressStyle};
use jiff::civil::Date;
use std::fmt::Write as _;
use std::fs::File;
use std::io::{self, BufRead, BufReader, IsTerminal, Read, Write};
use uuid::Uuid;

/// The sentence that stands wherever a league index is shown.
pub const CAUTION: &str = "League index: computed by this server from simulator rounds with publicly described \
                           arithmetic. No golf association issues or recognises it; don't submit it as one.";

/// The longest line of a bundle that is read.
const LONGEST_LINE: u64 = 64 << 20;

/// How a report is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// Tables for a terminal.
    Table,
    /// JSON for scripts.
    Json,
    /// A page of its own.
    Html,
}

/// What putting is compared with.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, ValueEnum)]
pub enum Against {
    /// The tour.
    #[default]
    Tour,
    /// The people one plays with: the season's attested putts.
    Field,
}

/// The words after `evenfield report`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  evenfield report autumn.ndjson --format json > autumn.json")]
pub struct ReportArgs {
    /// The bundle; `-` reads standard input.
    pub bundle: String,
    /// How to write the report.
    #[arg(long, value_enum, default_value = "table")]
    pub format: Format,
    /// The season; without it the latest one.
    #[arg(long, value_name = "ID")]
    pub season: Option<Uuid>,
    /// Looks back: only events up to this one.
    #[arg(long, value_name = "EVENT_ID")]
    pub as_of: Option<Uuid>,
    /// Putting of this event alone.
    #[arg(long, value_name = "EVENT_ID")]
    pub event: Option<Uuid>,
    /// Putting of events from this day on.
    #[arg(long, value_name = "DATE")]
    pub from: Option<Date>,
    /// Putting of events up to this day.
    #[arg(long, value_name = "DATE")]
    pub to: Option<Date>,
    /// Putting on this set-up alone.
    #[arg(long, value_name = "SETUP_ID")]
    pub setup: Option<Uuid>,
    /// What to compare putting with.
    #[arg(long, value_enum, default_value = "tour")]
    pub baseline: Against,
    /// Leaves out the evidence, which takes longer than all the rest.
    #[arg(long)]
    pub without_findings: bool,
}

/// A line of a bundle that cannot be used.
#[derive(Debug, thiserror::Error)]
#[error("line {line}: {}", .faults.iter().map(|(pointer, detail)| if pointer.is_empty() { detail.clone() } else { format!("{pointer}: {detail}") }).collect::<Vec<_>>().join("; "))]
pub struct BadLine {
    /// Its number, from 1.
    pub line: u64,
    /// Pointer and detail of each fault.
    pub faults: Vec<(String, String)>,
}

/// Runs the command.
///
/// # Errors
/// An unreadable bundle, a bad line, an unknown season or event.
pub fn run(args: &ReportArgs, output: &mut dyn Write) -> anyhow::Result<()> {
    let keeps = args.season.map_or(KeptPutts::Latest, |season| KeptPutts::Season(SeasonId(season)));
    let Assembler { book, mut entries, putts, facts, .. } = read_bundle(&args.bundle, keeps, |_, _| Ok(()))?;
    let season = match args.season {
        Some(id) if book.seasons.contains_key(&SeasonId(id)) => SeasonId(id),
        Some(id) => bail!("the bundle has no season {id}"),
        None => latest_season(&book).context("the bundle has no season")?,
    };
    let until = match args.as_of.map(EventId) {
        Some(event) => Some(book.nights.get(&event).with_context(|| format!("the bundle has no event {event}"))?.key()),
        None => None,
    };
    let yardstick = match args.baseline {
        Against::Tour => Yardstick::Tour,
        Against::Field => Yardstick::Field,
    };
    let computing = super::saying::telling("computing the report");
    let overview = overview(
        &book,
        &mut entries,
        &putts,
        &facts,
        Asked { season, until, yardstick, chosen: chosen(args, &book)?, weighs_evidence: !args.without_findings },
    );
    drop(computing);
    match args.format {
        Format::Json => {
            serde_json::to_writer(&mut *output, &overview)?;
            writeln!(output)?;
        }
        Format::Table => write!(output, "{}", table(&book.seasons[&season].name, &overview, &book))?,
        Format::Html => write!(output, "{}", html(&book.seasons[&season].name, &overview, &book))?,
    }
    Ok(())
}

/// Reads which rounds the putting is of.
fn chosen(args: &ReportArgs, book: &Book) -> anyhow::Result<Chosen> {
    let event = args.event.map(EventId);
    if let Some(event) = event.filter(|event| !book.nights.contains_key(event)) {
        bail!("the bundle has no event {event}");
    }
    if args.from.zip(args.to).is_some_and(|(from, to)| to < from) {
        bail!("--to must not be before --from");
    }
    Ok(Chosen { event, from: args.from, to: args.to, setup: args.setup.map(SetupId) })
}

/// Reads a bundle from a file or standard input, calling `each` with every line and its text before it is taken in.
///
/// # Errors
/// An unreadable file; the first bad line.
pub fn read_bundle(
    path: &str,
    keeps: KeptPutts,
    mut each: impl FnMut(&Line, u64) -> anyhow::Result<()>,
) -> anyhow::Result<Assembler> {
    let (input, size): (Box<dyn Read>, Option<u64>) = if path == "-" {
        (Box::new(io::stdin()), None)
    } else {
        let file = File::open(path).with_context(|| format!("{path} cannot be read"))?;
        let size = file.metadata()?.len();
        (Box::new(file), Some(size))
    };
    let progress = progress_bar(size);
    let mut input = BufReader::with_capacity(1 << 20, progress.wrap_read(input));
    let mut assembler = Assembler::keeping(keeps);
    let mut round_lines: Vec<u64> = Vec::new();
    let mut text = Vec::new();
    let mut number = 0;
    loop {
        text.clear();
        let read = input.by_ref().take(LONGEST_LINE).read_until(b'\n', &mut text);
        if read.with_context(|| format!("{path} cannot be read"))? == 0 {
            break;
        }
        number += 1;
        if text.trim_ascii().is_empty() {
            continue;
        }
        let bad = |faults: Vec<(String, String)>| BadLine { line: number, faults };
        if number == 1 && !text.trim_ascii_start().starts_with(b"{") {
            bail!("this is not an evenfield bundle (line 1 is not a JSON object)");
        }
        let line = Line::read(text.trim_ascii_end())
            .map_err(|errors| bad(errors.into_iter().map(|error| (error.pointer, error.detail)).collect()))?;
        each(&line, number)?;
        if matches!(line, Line::Round(_)) {
            round_lines.push(number);
        }
        assembler
            .add(line)
            .map_err(|faults| bad(faults.into_iter().map(|fault| (fault.pointer, fault.detail)).collect()))?;
    }
    progress.finish_and_clear();
    assembler.finish().map_err(|(round, fault)| BadLine {
        line: round.and_then(|round| round_lines.get(round).copied()).unwrap_or(number),
        faults: vec![(fault.pointer, fault.detail)],
    })?;
    Ok(assembler)
}

fn progress_bar(size: Option<u64>) -> ProgressBar {
    if !io::stderr().is_terminal() {
        return ProgressBar::hidden();
    }
    let bar = size.map_or_else(ProgressBar::new_spinner, ProgressBar::new);
    let style = "{wide_bar} {bytes} of {total_bytes}, {eta} left";
    bar.with_style(ProgressStyle::with_template(style).unwrap_or_else(|_| ProgressStyle::default_bar()))
}

type Rows = Vec<Vec<String>>;

fn standings_rows(rows: &[&StandingsRow]) -> Rows {
    let events = rows.iter().map(|row| row.results.len()).max().unwrap_or(0);
    let mut table =
        vec![["Place", "Player", "Played", "Counted", "Total", "SG putting", "Values"].map(String::from).to_vec()];
    table.extend(rows.iter().map(|row| {
        let place = row.position.map_or("–".into(), |place| format!("{}{place}", if row.tied { "=" } else { "" }));
        let values = row.results.iter().map(cell).collect::<Vec<_>>().join(" ");
        vec![
            place,
            row.display_name.clone(),
            row.events_played.to_string(),
            row.events_counted.to_string(),
            row.total.map_or("–".into(), shown),
            row.strokes_gained_putting_per_round.map_or("–".into(), |gained| format!("{gained:+.2}")),
            if events == 0 { String::new() } else { values },
        ]
    }));
    table
}

/// Writes a value; one that does not count stands in brackets.
fn cell(cell: &ResultCell) -> String {
    let value = cell.value.map_or("–".into(), shown);
    if cell.counted { value } else { format!("({value})") }
}

/// Writes a value with at most two decimals.
pub(super) fn shown(value: Value) -> String {
    let text = crate::domain::exact::to_text(value.0);
    match text.split_once('.') {
        Some((whole, part)) if part.len() > 2 => format!("{whole}.{}", &part[..2]),
        _ => text,
    }
}

fn handicap_rows(overview: &Overview, book: &crate::domain::season::Book) -> Rows {
    let mut table = vec![["Player", "League index", "Differentials", "Counting"].map(String::from).to_vec()];
    table.extend(overview.handicaps.iter().map(|handicap| {
        let counting: Vec<String> =
            handicap.differentials.iter().filter(|row| row.counts).map(|row| row.value.to_string()).collect();
        vec![
            name(book, handicap.member_id),
            handicap.league_index.map_or("–".into(), |index| AsHandicap(index).to_string()),
            handicap.differentials.len().to_string(),
            counting.join(" "),
        ]
    }));
    table
}

fn putting_rows(overview: &Overview, book: &crate::domain::season::Book) -> Rows {
    let heads = ["Player", "Rounds", "Putts", "Holes recorded", "SG a round", "Conceded", "Line", "Pace", "Practise"];
    let mut table = vec![heads.map(String::from).to_vec()];
    table.extend(overview.putting.iter().map(|report| {
        vec![
            name(book, report.member_id),
            report.rounds.to_string(),
            report.putts.map_or("–".into(), |putts| putts.to_string()),
            format!("{} of {}", report.recorded_holes, report.holes),
            report.strokes_gained_per_round.map_or("–".into(), |gained| format!("{gained:+.2}")),
            report.conceded.putts.to_string(),
            report
                .player
                .start_line
                .map_or("–".into(), |line| format!("{:+.1}° ± {:.1}°", line.bias_deg, line.sd_deg)),
            report.player.pace.map_or("–".into(), |pace| format!("{:+.0} % ± {:.0} %", pace.bias_pct, pace.sd_pct)),
            to_practise(report),
        ]
    }));
    table
}

/// Names what to practise, what it would save in a round and how sure that is.
fn to_practise(report: &PuttingReport) -> String {
    let advice = &report.advice;
    let Some((focus, worth)) = advice.focus.zip(advice.worth_per_round) else { return "too early to say".into() };
    let focus = match focus {
        Focus::Line => "line",
        Focus::Pace => "pace",
        Focus::Read => "read",
    };
    let at = match (advice.from_ft, advice.to_ft) {
        (Some(from), Some(to)) if to < 200.0 || from > 0.0 => format!(", {from}–{to} ft"),
        _ => String::new(),
    };
    let sure = match advice.certainty {
        Certainty::Clear => "clear",
        Certainty::Likely => "likely",
        Certainty::Hint | Certainty::Early => "a hint",
    };
    format!("{focus}{at}: {worth:+.2} a round, {sure}")
}

fn name(book: &crate::domain::season::Book, member: crate::domain::ids::MemberId) -> String {
    book.members.get(&member).map(|member| member.display_name.clone()).unwrap_or_default()
}

fn sections(season: &str, overview: &Overview, book: &crate::domain::season::Book) -> Vec<(String, Rows)> {
    let by_flight = overview.standings.chunk_by(|a, b| a.flight == b.flight);
    let mut sections: Vec<(String, Rows)> = by_flight
        .map(|rows| {
            let title = match &rows[0].flight {
                Some(flight) => format!("{season}: standings, {flight}"),
                None => format!("{season}: standings"),
            };
            (title, standings_rows(&rows.iter().collect::<Vec<_>>()))
        })
        .collect();
    sections.push(("League indexes".into(), handicap_rows(overview, book)));
    let against = match &overview.field {
        None => String::from("the tour baseline"),
        Some(field) => format!("the league's own baseline ({} putts of {} attested rounds)", field.putts, field.rounds),
    };
    sections.push((format!("{season}: putting against {against}"), putting_rows(overview, book)));
    if !overview.findings.is_empty() {
        let title = "Findings: evidence for a person to judge, for organizers and those concerned alone";
        sections.push((title.into(), finding_rows(overview, book)));
    }
    sections
}

fn finding_rows(overview: &Overview, book: &crate::domain::season::Book) -> Rows {
    let head = ["Kind", "About", "State", "Odds", "Strokes per round", "What was seen"].map(str::to_owned).to_vec();
    let row = |finding: &FindingReport| {
        let about = match finding.subject {
            About::Player(member) => name(book, member),
            About::Setup(setup) => format!("simulator {setup}"),
        };
        let worth =
            finding.effect.worth.strokes_per_round.map_or("\u{2013}".to_owned(), |strokes| format!("{strokes:+.1}"));
        vec![
            title(finding.kind).to_owned(),
            about,
            finding.state.to_owned(),
            format!("10^{:.1} to 1", finding.evidence.now_log10),
            worth,
            finding.summary.clone(),
        ]
    };
    std::iter::once(head).chain(overview.findings.iter().map(row)).collect()
}

/// Writes a report as tables for a terminal.
pub fn table(season: &str, overview: &Overview, book: &crate::domain::season::Book) -> String {
    let mut text = String::new();
    for (title, rows) in sections(season, overview, book) {
        let columns = rows[0].len();
        let width = |column: usize| rows.iter().map(|row| row[column].chars().count()).max().unwrap_or(0);
        let widths: Vec<usize> = (0..columns).map(width).collect();
        let _ = writeln!(text, "{title}");
        for row in &rows {
            let cells: Vec<String> = row.iter().zip(&widths).map(|(cell, width)| format!("{cell:<width$}")).collect();
            let _ = writeln!(text, "  {}", cells.join("  ").trim_end());
        }
        text.push('\n');
    }
    let _ = writeln!(text, "Values in brackets don't count. {CAUTION}");
    text
}

fn html(season: &str, overview: &Overview, book: &crate::domain::season::Book) -> String {
    let escape =
        |text: &str| text.replace('&', "&amp;").replace('<', "&lt;").replace('>', "&gt;").replace('"', "&quot;");
    let mut page = format!(
        "<!doctype html>\n<html lang=\"en\"><head><meta charset=\"utf-8\">\
         <meta name=\"viewport\" content=\"width=device-width\"><title>{}</title>\
         <style>body{{font:1rem/1.5 system-ui,sans-serif;margin:1rem;color-scheme:light dark}}\
         div{{overflow-x:auto}}table{{border-collapse:collapse}}caption{{text-align:left;font-weight:bold}}\
         th,td{{text-align:left;padding:.2rem .8rem .2rem 0;font-variant-numeric:tabular-nums}}</style></head><body>\n",
        escape(season)
    );
    for (title, rows) in sections(season, overview, book) {
        let _ = write!(page, "<div><table><caption>{}</caption>\n<thead><tr>", escape(&title));
        for head in &rows[0] {
            let _ = write!(page, "<th scope=\"col\">{}</th>", escape(head));
        }
        page.push_str("</tr></thead>\n<tbody>");
        for row in &rows[1..] {
            page.push_str("<tr>");
            row.iter().for_each(|cell| {
                let _ = write!(page, "<td>{}</td>", escape(cell));
            });
            page.push_str("</tr>\n");
        }
        page.push_str("</tbody></table></div>\n");
    }
    let _ = write!(page, "<p>Values in brackets don't count. {CAUTION}</p>\n</body></html>\n");
    page
}
