//! `evenfield demo`: an invented league in a throwaway database, served.

use super::report::shown;
use crate::accounts::throttle::network_of;
use crate::demo::{DemoLeague, DemoTerms, league};
use crate::domain::competition::table::StandingsRow;
use crate::domain::facts::Role;
use crate::domain::ids::LeagueId;
use crate::domain::season::overview::{Asked, overview};
use crate::http::app::App;
use crate::http::quota::Allowance;
use crate::league::Caller;
use crate::league::account::register::{NewAccount, Registration};
use crate::log;
use crate::startup::listening::Connections;
use crate::startup::{Application, Options, system_clock};
use crate::storage::{Store, private};
use crate::wire::bundle::assemble::Assembler;
use crate::wire::bundle::line::Line;
use anyhow::Context;
use jiff::tz::TimeZone;
use qrcode::QrCode;
use qrcode::render::unicode::Dense1x2;
use std::fmt::Write as _;
use std::fs;
use std::io::{self, IsTerminal, Write};
use std::net::{Ipv4Addr, SocketAddr, UdpSocket};
use std::path::PathBuf;
use uuid::Uuid;

/// The words after `evenfield demo`.
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  evenfield demo --players 12 --events 6")]
pub struct DemoArgs {
    /// Number from which the league is generated: the same seed gives the same league
    #[arg(long, default_value_t = 1)]
    seed: u64,
    /// Number of players
    #[arg(long, default_value_t = 24, value_parser = clap::value_parser!(u16).range(2..=500))]
    players: u16,
    /// Number of events
    #[arg(long, default_value_t = 10, value_parser = clap::value_parser!(u16).range(1..=52))]
    events: u16,
    /// Address and port to listen on; port 0 takes a free one, and 0.0.0.0 lets phones on the same wifi in
    #[arg(long, value_name = "ADDR", default_value = "127.0.0.1:8787", env = "EVENFIELD_LISTEN")]
    listen: SocketAddr,
    /// Devices keep no pages
    #[arg(long)]
    no_kept_pages: bool,
}

/// A folder that is removed with everything in it.
struct Throwaway(PathBuf);

impl Throwaway {
    fn new() -> std::io::Result<Self> {
        let path = std::env::temp_dir().join(format!("evenfield-demo-{}", Uuid::new_v4().simple()));
        private::folder(&path)?;
        Ok(Self(path))
    }
}

impl Drop for Throwaway {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

/// Runs the command until the server is told to stop.
///
/// # Errors
/// Anything that keeps it from serving.
pub fn run(args: &DemoArgs, output: &mut dyn Write) -> anyhow::Result<()> {
    let _log = log::start();
    let folder = Throwaway::new().context("no throwaway folder can be made")?;
    let options = Options {
        database: Store::File(folder.0.join("demo.sqlite")),
        signing_key: None,
        journal_key: None,
        listen: reachable(args.listen)?,
        is_throwaway: true,
        behind_proxy: false,
        trusted_proxies: Vec::new(),
        registration: Some(Registration::Open),
        allowance: Allowance::default(),
        connections: Connections::default(),
        lasting_acts: None,
        backups: None,
        keeps_pages: !args.no_kept_pages,
        clock: system_clock(),
    };
    let today = TimeZone::UTC.to_datetime((options.clock)()).date();
    let terms = DemoTerms { seed: args.seed, players: args.players.into(), events: args.events.into(), today };
    let demo = league(&terms);
    let outcome = actix_web::rt::System::new().block_on(async {
        let making = super::saying::telling("making the demo league");
        let application = Application::build(options).await?;
        let app = application.app.clone();
        let sign_ins = fill(&app, &demo).await?;
        let lines = exported(&app, demo.league).await?;
        let text = description(&demo, lines, &sign_ins, application.address)?;
        drop(making);
        output.write_all(text.as_bytes())?;
        output.flush()?;
        application.run().await?;
        Ok(())
    });
    drop(folder);
    outcome
}

/// Returns an address that people can open: for all addresses at once, that of this machine in its network.
fn reachable(listen: SocketAddr) -> anyhow::Result<SocketAddr> {
    if !listen.ip().is_unspecified() {
        return Ok(listen);
    }
    // Nothing is sent: the system only says from which of its addresses it would be. The other is for documentation.
    let socket = UdpSocket::bind((Ipv4Addr::UNSPECIFIED, 0))?;
    socket.connect((Ipv4Addr::new(192, 0, 2, 1), 9)).context("this machine has no network: leave --listen out")?;
    Ok(SocketAddr::new(socket.local_addr()?.ip(), listen.port()))
}

/// A sign-in of the demo.
struct SignIn {
    who: &'static str,
    name: String,
    email: String,
    password: String,
}

async fn fill(app: &App, demo: &DemoLeague) -> anyhow::Result<Vec<SignIn>> {
    let mut import = app.leagues.import().await?;
    for line in &demo.lines {
        import.add(line).await?;
    }
    import.finish().await?;
    let people =
        [("Player", "player", demo.player, Role::Player), ("Organizer", "organizer", demo.organizer, Role::Organizer)];
    let (mut sign_ins, mut callers) = (Vec::new(), Vec::new());
    for (who, word, member, role) in people {
        let email = format!("{word}@demo.example");
        let password = format!("demo {word} {}", &Uuid::new_v4().simple().to_string()[..12]);
        let new = NewAccount {
            email: email.clone(),
            password: password.clone(),
            display_name: String::from("Demo"),
            invitation: None,
        };
        let account = app.leagues.register(&app.door, new, network_of(Ipv4Addr::LOCALHOST.into())).await?.id;
        let code = app.leagues.operator_code(Some((demo.league, Some(member), role))).await?;
        let caller = Caller { account, session: Uuid::nil(), browser_since: None };
        let (claimed, _) = app.leagues.accept_invitation(caller, code, true).await?;
        sign_ins.push(SignIn { who, name: claimed.member.display_name, email, password });
        callers.push(caller);
    }
    super::demo_acts::act(&app.leagues, demo, callers[0], callers[1]).await?;
    super::demo_matches::lay_down(&app.leagues, demo, callers[1]).await?;
    Ok(sign_ins)
}

/// Reads the league as it stands on the server.
async fn exported(app: &App, league: LeagueId) -> anyhow::Result<Vec<Line>> {
    let (sender, mut receiver) = tokio::sync::mpsc::channel(64);
    let leagues = app.leagues.clone();
    let export = actix_web::rt::spawn(async move { leagues.export(league, sender).await });
    let mut lines = Vec::new();
    while let Some(line) = receiver.recv().await {
        lines.push(line);
    }
    export.await??;
    Ok(lines)
}

/// Draws an address as a QR code in half blocks; on a terminal black on white, whatever its colours are.
fn picture_of(address: &str) -> anyhow::Result<String> {
    let drawn = QrCode::new(address)?.render::<Dense1x2>().build();
    let (ink, end) = if io::stdout().is_terminal() { ("\x1b[30;107m", "\x1b[0m") } else { ("", "") };
    Ok(drawn.lines().map(|line| format!("{ink}{line}{end}\n")).collect())
}

/// Tells in six lines what was made and where to look first, and draws the address where phones can open it.
fn description(
    demo: &DemoLeague,
    lines: Vec<Line>,
    sign_ins: &[SignIn],
    address: SocketAddr,
) -> anyhow::Result<String> {
    let mut assembler = Assembler::default();
    for line in lines {
        assembler.add(line).map_err(|faults| anyhow::anyhow!("the demo league is unsound: {faults:?}"))?;
    }
    let Assembler { book, mut entries, putts, facts, .. } = assembler;
    let overview = overview(&book, &mut entries, &putts, &facts, Asked::now(demo.season));
    let name = demo.lines.iter().find_map(|line| match line {
        Line::League(line) => Some(line.body.name.as_str()),
        _ => None,
    });
    let mut text = format!(
        "{}, an invented league of {} members, runs until you press Ctrl-C and is then deleted.\n",
        name.unwrap_or_default(),
        book.members.len()
    );
    for SignIn { who, name, email, password } in sign_ins {
        writeln!(text, "{who:<12} {name:<16} {email:<24} {password}")?;
    }
    let leads = |row: &&StandingsRow| row.position == Some(1);
    let leader = |row: &StandingsRow| {
        let of = row.flight.as_deref().map(|flight| format!("{flight}: ")).unwrap_or_default();
        let total = row.total.map_or_else(String::new, |total| format!(", {} points", shown(total)));
        format!("{of}{}{total}", row.display_name)
    };
    let leaders: Vec<String> = overview.standings.iter().filter(leads).map(leader).collect();
    let open = overview.findings.iter().filter(|finding| finding.state != "ruled").count();
    let phones = if address.ip().is_loopback() { "  for phones on your wifi add --listen 0.0.0.0:8787" } else { "" };
    writeln!(text, "Open         http://{address}{phones}")?;
    writeln!(text, "Standings    http://{address}/seasons/{}  {}", demo.season, leaders.join("; "))?;
    let league = demo.league;
    let findings = super::saying::counted(open as i64, "finding", "findings");
    writeln!(text, "Fair play    http://{address}/leagues/{league}/findings  {findings} to look at, as the organizer")?;
    if !address.ip().is_loopback() {
        text.push_str(&picture_of(&format!("http://{address}"))?);
    }
    Ok(text)
}
