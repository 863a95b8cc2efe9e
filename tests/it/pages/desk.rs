//! The review desk on pages, by forms alone: a first opinion before names, a ruling whose effect is seen first, undoing
//! it, the password once more (S14), and a reviewer who sees one finding and nothing else.

use crate::stored::journal_bundle::{bundle, clean, import};
use crate::support::browsing::{attribute, cookie, page, pairs, send, signed_in};
use crate::support::harness::{Api, Cast, Night, PASSWORD, Seen, id, own, shared, softened, text};
use serde_json::{Value, json};

/// A browser that is signed in.
pub struct Browser<'a> {
    api: &'a Api,
    cookie: String,
}

impl<'a> Browser<'a> {
    pub async fn of(api: &'a Api, email: &str) -> Self {
        Self { api, cookie: signed_in(api, email).await }
    }

    async fn see(&self, path: &str) -> String {
        page(self.api, path, &self.cookie).expect(200).await.text()
    }

    async fn send(&self, path: &str, fields: &[(&str, &str)]) -> Seen {
        send(self.api, path, &self.cookie, fields).send().await
    }

    /// Sends a form that leads back to where it came from.
    pub async fn does(&self, path: &str, fields: &[(&str, &str)]) {
        let seen = self.send(path, fields).await;
        assert_eq!(seen.status, 303, "{path} {fields:?}: {seen}");
    }

    async fn refused(&self, path: &str, fields: &[(&str, &str)], status: u16) -> String {
        let seen = self.send(path, fields).await;
        assert_eq!(seen.status, status, "{path} {fields:?}: {seen}");
        seen.text()
    }
}

/// The hidden fields and ticked boxes of the page's form that sends to an address.
fn fields_of(page: &str, action: &str) -> Vec<(String, String)> {
    let part = page.split("<form").find(|part| part.contains(&format!("action=\"{action}\""))).expect("the form");
    let part = part.split("</form>").next().expect("its end");
    let sent = |tag: &&str| tag.contains("type=\"hidden\"") || tag.contains(" checked");
    let fields = part.split("<input").skip(1).map(|tag| tag.split('>').next().expect("a tag")).filter(sent);
    fields.filter_map(|tag| Some((attribute(tag, "name")?, attribute(tag, "value")?))).collect()
}

fn ticked(page: &str) -> usize {
    let boxes = page.split("type=\"checkbox\"").skip(1).filter_map(|rest| rest.split('>').next());
    boxes.filter(|tag| tag.contains("checked")).count()
}

/// Opens a finding about a player of five rounds, or more: enough for a league index.
async fn opened(api: &Api, cast: &Cast, night: &Night) -> (String, Vec<String>) {
    let (player, mut rounds) = api.finding(cast, night, &cast.ann, &night.ann).await;
    while rounds.len() < 5 {
        let event = api.event(cast, night, json!({})).await;
        let mut card = softened(&night.ann, "", rounds.len());
        card["setup_id"] = Value::Null;
        rounds.push(api.hand_in(&event, &cast.ann, &card).await.id());
    }
    (player, rounds)
}

async fn standings(api: &Api, cast: &Cast, night: &Night) -> Value {
    api.get(format!("/seasons/{}/standings", night.season)).by(&cast.ben).expect(200).await.json()["items"].clone()
}

pub const OPINION: [(&str, &str); 3] =
    [("form", "opinion"), ("opinion", "honest_cause"), ("text", "A worn mat would do this.")];

/// Names stay hidden until a first opinion is noted, which nobody reads before noting an own one.
#[tokio::test]
async fn a_first_opinion_is_noted_before_names_are_shown() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let quinn = api.person("Quinn").await;
    api.join(&night.league, &cast.olga, &quinn, "organizer").await;
    let (player, rounds) = opened(&api, &cast, &night).await;
    let (setup, _) = api.setup_finding(&cast, &night, &cast.ben, &night.ben).await;
    let (olga, ann) = (Browser::of(&api, &cast.olga.email).await, Browser::of(&api, &cast.ann.email).await);
    let at = format!("/findings/{player}");
    ann.does(&format!("{at}/statements"), &[("text", "I, ann, asked the bay; Ann's mat is worn.")]).await;
    let own_page = ann.see(&at).await;
    for other in ["Olga", "Ben", "Quinn"] {
        assert!(!own_page.contains(other), "the member's page has no other names (U10): {own_page}");
    }

    let before = olga.see(&at).await;
    assert!(before.contains("Player A") && before.contains("first opinion"), "{before}");
    assert!(before.contains("I, Player A, asked the bay; Player A&#39;s mat is worn."), "{before}");
    assert!(!before.contains("name=\"decision\""), "nobody rules before it");
    for gives_away in ["Ann", "ann,", &night.ann, "/rounds/", "/records", "Bay 1", "Places that would change"] {
        assert!(!before.contains(gives_away), "{gives_away:?} gives the name away: {before}");
    }
    let of_setup = olga.see(&format!("/findings/{setup}")).await;
    assert!(of_setup.contains("About a simulator") && !of_setup.contains("Bay 1"), "{of_setup}");
    let list = olga.see(&format!("/leagues/{}/findings", night.league)).await;
    assert!(list.contains(&at) && !list.contains(&night.ann) && !list.contains("Ann"), "{list}");
    let told = olga.see("/notices").await;
    let told = told.split("<li>").find(|notice| notice.contains("New fair-play finding")).expect("a notice").to_owned();
    for (shown, what) in [(&list, "opened 14 Jan</span>"), (&told, ", 14 Jan</span>")] {
        assert!(shown.contains(what) && !shown.contains("<time"), "the hour is that of somebody's card: {shown}");
    }
    let too_soon = [("form", "ruling"), ("decision", "no_action"), ("reason", "a worn mat")];
    assert!(olga.refused(&format!("{at}/rulings"), &too_soon, 409).await.contains("Save your first opinion"));

    let opinions = format!("{at}/first-opinions");
    let kept = olga.refused(&opinions, &[("form", "opinion"), ("text", "Kept & typed")], 422).await;
    assert!(kept.contains("value=\"Kept &#38; typed\""), "{kept}");
    assert!(ann.refused(&opinions, &OPINION, 403).await.contains("Only an organizer or a reviewer may rule"));
    olga.does(&opinions, &OPINION).await;
    let after = olga.see(&at).await;
    for shown in ["About Ann.", "an honest cause is likely. A worn mat", &format!("/rounds/{}", rounds[0]), "/records"]
    {
        assert!(after.contains(shown), "{shown:?}: {after}");
    }
    let again = olga.refused(&opinions, &OPINION, 409).await;
    assert!(again.contains("stays the first"), "{again}");

    let quinn_sees = Browser::of(&api, &quinn.email).await;
    for reader in [&quinn_sees, &ann] {
        assert!(!reader.see(&at).await.contains("A worn mat"), "an opinion colours nobody else's");
    }
    for by in [&cast.olga, &cast.ann] {
        let seen = api.get(&at).by(by).expect(200).await.text();
        assert!(!seen.contains("worn mat would"), "the interface keeps its shape: {seen}");
        let records = api.get(format!("{at}/records")).by(by).expect(200).await.text();
        assert!(!records.contains("worn mat would"), "{records}");
    }
    quinn_sees.does(&opinions, &[("opinion", "cannot_say"), ("text", "Too few putts.")]).await;
    let both = quinn_sees.see(&at).await;
    assert!(both.contains("A worn mat would") && both.contains("cannot say. Too few putts."), "{both}");

    // It is a fact like others: in the journal, in what its holder takes away, and in the bundle there and back.
    let journal = olga.see(&format!("/leagues/{}/journal", night.league)).await;
    assert!(journal.contains("first opinion"), "{journal}");
    let held = api.get(format!("/members/{}/export", night.olga)).by(&cast.olga).expect(200).await.text();
    assert!(held.contains("A worn mat") && !held.contains("Too few putts"), "{held}");
    let whole = bundle(&api, &night.league, &cast.olga).await;
    assert_eq!(whole.lines().filter(|line| line.contains("\"kind\":\"first_opinion\"")).count(), 2);
    clean(&api).await;
    let other = own();
    let code = import(&other.server.app.leagues, &whole).await;
    let mover = other.person("Mover").await;
    other.call("POST", &format!("/invitations/{code}/acceptance")).by(&mover).expect(201).await;
    assert_eq!(bundle(&other, &night.league, &mover).await, whole);
    clean(&other).await;
}

/// From an open finding to its end and back, by forms: answered, one organizer aside, ruled by another, undone.
#[tokio::test]
async fn a_finding_goes_to_its_end_by_forms() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let quinn = api.person("Quinn").await;
    api.join(&night.league, &cast.olga, &quinn, "organizer").await;
    let (player, rounds) = opened(&api, &cast, &night).await;
    let (olga, ann) = (Browser::of(&api, &cast.olga.email).await, Browser::of(&api, &cast.ann.email).await);
    let quinn = Browser::of(&api, &quinn.email).await;
    let at = format!("/findings/{player}");
    let rulings = format!("{at}/rulings");
    for organizer in [&olga, &quinn] {
        organizer.does(&format!("{at}/first-opinions"), &OPINION).await;
    }

    // Before an answer nothing is ruled, and nothing typed is lost.
    let mut fields = vec![("form", "ruling"), ("decision", "exclude_round"), ("round_id", rounds[1].as_str())];
    fields.push(("reason", "The bay's mat < worn"));
    let refused = quinn.refused(&rulings, &fields, 409).await;
    assert!(
        refused.contains("have time to reply first") && refused.contains("The bay&#39;s mat &#60; worn</textarea>")
    );
    assert!(refused.contains("value=\"exclude_round\" required checked"), "{refused}");
    assert_eq!(ticked(&refused), 1, "the round that was ticked, and no other: {refused}");

    let wish = [("form", "request"), ("text", "Ten putts from 12 ft on bay 2."), ("due_on", "2027-01-20")];
    quinn.does(&format!("{at}/requests"), &wish).await;
    let asked = ann.see(&at).await;
    assert!(asked.contains("Ten putts from 12 ft on bay 2.") && asked.contains("Thu 21 Jan 2027, 00:00"), "{asked}");
    let no_day = [("form", "request"), ("text", "x"), ("due_on", "soon")];
    assert!(quinn.refused(&format!("{at}/requests"), &no_day, 422).await.contains("value=\"soon\""));
    ann.does(&format!("{at}/statements"), &[("form", "statement"), ("text", "It was bay 1 each time.")]).await;

    let asked = olga.send(&format!("{at}/recusals"), &[]).await;
    assert!(asked.status == 200 && asked.text().contains("Step aside from this finding?"), "{asked}");
    assert!(!olga.see(&at).await.contains("You stepped aside"));
    olga.does(&format!("{at}/recusals"), &[("seen", "yes")]).await;
    let aside = olga.see(&at).await;
    assert!(aside.contains("You stepped aside") && !aside.contains("name=\"decision\""), "{aside}");
    olga.refused(&rulings, &fields, 403).await;

    let none = quinn.refused(&rulings, &[fields[0], fields[1], fields[3]], 422).await;
    assert!(none.contains("href=\"#rounds\"") && ticked(&none) == 0, "{none}");
    let before = standings(&api, &cast, &night).await;
    let preview = quinn.send(&rulings, &fields).await;
    assert_eq!(preview.status, 200, "{preview}");
    let preview = preview.text();
    assert_eq!(standings(&api, &cast, &night).await, before, "nothing is done yet");
    let body = json!({ "decision": "exclude_round", "round_ids": [rounds[1]], "reason": "as seen" });
    let rest = api.post(format!("{rulings}?validate_only=true"), &body).by(&cast.olga);
    rest.refused(403, "conflict-of-interest").await;
    assert!(preview.contains("Effect of this ruling") && preview.contains("Nothing is stored yet"), "{preview}");
    assert!(preview.contains("Standings that would change"), "{preview}");
    assert!(preview.contains("League indexes that would change"), "{preview}");
    let kept = fields_of(&preview, &rulings);
    let mut not_yet = pairs(&kept);
    not_yet.push(("not_yet", "yes"));
    let back = quinn.send(&rulings, &not_yet).await.text();
    assert!(
        back.contains("&#60; worn</textarea>")
            && ticked(&back) == 1
            && !back.contains("<h2>Effect of this ruling</h2>"),
        "{back}"
    );
    assert!(back.contains("value=\"exclude_round\" required checked"), "{back}");
    let mut give = pairs(&kept);
    give.push(("seen", "yes"));
    quinn.does(&rulings, &give).await;
    let ruled = standings(&api, &cast, &night).await;
    assert_ne!(ruled, before);
    quinn.does(&rulings, &give).await;
    assert_eq!(standings(&api, &cast, &night).await, ruled, "sent twice it is given once");
    let shown = quinn.see(&at).await;
    assert_eq!(
        shown.matches("The rounds are excluded from all results (1 round)").count(),
        2,
        "told, and to be undone: {shown}"
    );
    assert!(ann.see(&at).await.contains("The bay&#39;s mat &#60; worn"), "the reason is told to whom it concerns");
    let journal = quinn.see(&format!("/leagues/{}/journal", night.league)).await;
    assert!(journal.contains("<td>rule</td><td>finding</td>"), "{journal}");

    // Undone from the page, with its effect first.
    let mut undo = fields_of(&shown, &rulings);
    assert!(undo.contains(&("decision".into(), "reinstate".into())), "{undo:?}");
    undo.push(("reason".into(), "The mat was new.".into()));
    let preview = quinn.send(&rulings, &pairs(&undo)).await.text();
    assert!(preview.contains("The ruling is undone"), "{preview}");
    let kept = fields_of(&preview, &rulings);
    let mut not_yet = pairs(&kept);
    not_yet.push(("not_yet", "yes"));
    assert!(quinn.send(&rulings, &not_yet).await.text().contains("The mat was new.</textarea>"));
    let mut give = pairs(&kept);
    give.push(("seen", "yes"));
    quinn.does(&rulings, &give).await;
    assert_eq!(standings(&api, &cast, &night).await, before);
    let shown = quinn.see(&at).await;
    assert!(shown.contains("The mat was new.") && !shown.contains("Reason for undoing it"), "{shown}");

    // Another finding of the kind has it beside it, once a first opinion is noted there.
    let (about_ben, _) = api.finding(&cast, &night, &cast.ben, &night.ben).await;
    let there = format!("/findings/{about_ben}");
    assert!(!quinn.see(&there).await.contains("The mat was new."));
    quinn.does(&format!("{there}/first-opinions"), &OPINION).await;
    let beside = quinn.see(&there).await;
    for earlier in ["The mat was new.", "The bay&#39;s mat &#60; worn", &at] {
        assert!(beside.contains(earlier), "{earlier}: {beside}");
    }
}

/// The handicaps of a preview are those that follow (contract's shapes are extended, not changed).
#[tokio::test]
async fn a_preview_tells_the_handicaps_that_would_move() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let (player, rounds) = opened(&api, &cast, &night).await;
    let said = json!({ "text": "ask the bay" });
    api.post(format!("/findings/{player}/statements"), &said).by(&cast.ann).key(&id()).expect(201).await;
    let index = async || {
        let seen = api.get(format!("/members/{}/handicap", night.ann)).by(&cast.ann).expect(200).await.json();
        seen["league_index"].clone()
    };
    let before = index().await;
    let rulings = format!("/findings/{player}/rulings");
    let ruling = json!({ "decision": "exclude_round", "round_ids": rounds, "reason": "the bay" });
    let shown = api.post(format!("{rulings}?validate_only=true"), &ruling).by(&cast.olga).expect(200).await.json();
    let told = &shown["handicaps"][0];
    assert_eq!((&told["member_id"], &told["from"], &told["to"]), (&json!(night.ann), &before, &Value::Null));
    let given = api.post(&rulings, &ruling).by(&cast.olga).key(&id()).expect(201).await.json();
    assert_eq!((&given["handicaps"], index().await), (&shown["handicaps"], Value::Null));
    let olga = Browser::of(&api, &cast.olga.email).await;
    let late = olga.refused(&format!("/findings/{player}/first-opinions"), &OPINION, 409).await;
    assert!(late.contains("an opinion after that is no first one"), "{late}");
    let ann = Browser::of(&api, &cast.ann.email).await;
    for path in [format!("/findings/{player}"), format!("/leagues/{}/findings", night.league)] {
        let seen = ann.see(&path).await;
        assert!(seen.contains("None of its rounds count any more") && !seen.contains("Of 0 putts"), "{seen}");
    }
    let putts = json!({ "decision": "reinstate", "round_ids": rounds, "reason": "the bay" });
    let undone = api.post(&rulings, &putts).by(&cast.olga).key(&id()).expect(201).await.json();
    assert_eq!((&undone["handicaps"][0]["to"], index().await), (&before, before.clone()));
}

/// S14: five minutes after the password was given it is asked for again, and what was typed goes on from there.
#[tokio::test]
async fn a_ruling_asks_for_the_password_once_more() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let (player, rounds) = opened(&api, &cast, &night).await;
    let said = json!({ "text": "ask the bay" });
    api.post(format!("/findings/{player}/statements"), &said).by(&cast.ann).key(&id()).expect(201).await;
    let olga = Browser::of(&api, &cast.olga.email).await;
    let (at, rulings) = (format!("/findings/{player}"), format!("/findings/{player}/rulings"));
    olga.does(&format!("{at}/first-opinions"), &OPINION).await;
    let invitations = format!("/leagues/{}/invitations", night.league);
    api.server.pass(300);
    assert_eq!(olga.send(&invitations, &[("role", "organizer")]).await.status, 200, "five minutes are not over");
    api.server.pass(1);

    let key = id();
    let typed = [("key", key.as_str()), ("form", "ruling"), ("decision", "exclude_putts"), ("round_id", &rounds[0])];
    let mut typed = typed.to_vec();
    typed.extend([("round_id", rounds[2].as_str()), ("reason", "Mat \"3\" & <others>")]);
    assert_eq!(olga.send(&rulings, &typed).await.status, 200, "looking at the effect asks for nothing");
    typed.push(("seen", "yes"));
    let asked = olga.refused(&rulings, &typed, 401).await;
    assert!(asked.contains("entered it more than five minutes ago"), "{asked}");
    for (name, value) in &typed {
        let value = value.replace('&', "&#38;").replace('"', "&#34;").replace('<', "&#60;").replace('>', "&#62;");
        assert!(asked.contains(&format!("name=\"{name}\" value=\"{value}\"")), "{name} is lost: {asked}");
    }
    let afresh = "/sign-in/afresh";
    let go_on = |password: &'static str| {
        let mut fields = vec![("afresh_to", rulings.as_str())];
        fields.extend(typed.iter().copied());
        fields.push(("afresh_password", password));
        fields
    };
    let wrong = olga.refused(afresh, &go_on("not my password at all"), 401).await;
    assert!(wrong.contains("Wrong password") && wrong.contains("name=\"reason\" value=\"Mat "), "{wrong}");
    assert!(!wrong.contains("not my password at all") && wrong.matches("afresh_to").count() == 1, "{wrong}");
    let seen = olga.send(afresh, &go_on(PASSWORD)).await;
    assert_eq!((seen.status, seen.header("location")), (307, rulings.as_str()), "the form is sent again: {seen}");
    let fresh = Browser { api: &api, cookie: cookie(&seen) };
    assert_eq!(page(&api, &at, &olga.cookie).send().await.status, 303, "a new session takes the old one's place (S12)");
    fresh.does(&rulings, &go_on(PASSWORD)).await;
    let ruled = api.get(&at).by(&cast.olga).expect(200).await.json();
    assert_eq!(ruled["rulings"][0]["reason"], "Mat \"3\" & <others>");
    assert_eq!(ruled["rulings"][0]["round_ids"].as_array().map(Vec::len), Some(2));
    let elsewhere = fresh.send(afresh, &[("afresh_to", "//elsewhere.example"), ("afresh_password", PASSWORD)]).await;
    assert_eq!(elsewhere.header("location"), "/", "nobody is led to another site");
}

/// S14 over the interface for scripts: a cookie is held to it, a token is not.
#[tokio::test]
async fn a_browser_that_was_left_open_takes_nothing_away() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    let (player, _) = api.finding(&cast, &night, &cast.ann, &night.ann).await;
    let handed = json!({ "text": "ask the bay" });
    api.post(format!("/findings/{player}/statements"), &handed).by(&cast.ann).key(&id()).expect(201).await;
    let round = api.hand_in(&night.event, &cast.ben, &crate::support::harness::round(&night.ben)).await.id();
    let (olga, ann) = (signed_in(&api, &cast.olga.email).await, signed_in(&api, &cast.ann.email).await);
    api.server.pass(301);
    let league = format!("/leagues/{}", night.league);
    let ruling = json!({ "decision": "no_action", "reason": "the bay" });
    let exclusion = json!({ "decision": "exclude_round", "reason": "the bay" });
    let browser = |method: &str, path: &str, cookie: &str| {
        api.call(method, path).with("cookie", cookie).with("sec-fetch-site", "same-origin").matching("*")
    };
    let invitations = format!("{league}/invitations");
    let due = [
        browser("POST", &format!("/findings/{player}/rulings"), &olga).body(&ruling).key(&id()),
        browser("POST", &format!("/rounds/{round}/rulings"), &olga).body(&exclusion).key(&id()),
        browser("POST", &invitations, &olga).body(&json!({ "role": "organizer" })),
        browser("PATCH", &format!("/members/{}", night.ben), &olga).body(&json!({ "role": "organizer" })),
        browser("GET", &format!("{league}/bundle"), &olga),
        browser("GET", &format!("/members/{}/export", night.ann), &ann),
        browser("DELETE", &format!("/members/{}", night.ben), &olga),
        browser("DELETE", "/me", &ann),
    ];
    for call in due {
        call.refused(401, "reauth-required").await;
    }
    let preview = format!("/findings/{player}/rulings?validate_only=true");
    browser("POST", &preview, &olga).body(&ruling).expect(200).await;
    browser("POST", &invitations, &olga).body(&json!({ "role": "player" })).expect(201).await;
    browser("PATCH", &format!("/members/{}", night.ben), &olga).body(&json!({ "flight": "B" })).expect(200).await;
    // Whoever may not do it is told that, and not asked for a password.
    browser("GET", &format!("{league}/bundle"), &ann).refused(403, "forbidden").await;
    api.get(format!("{league}/bundle")).by(&cast.olga).expect(200).await;
    api.post(&invitations, &json!({ "role": "organizer" })).by(&cast.olga).expect(201).await;
    let rulings = format!("/findings/{player}/rulings");
    api.post(rulings, &ruling).by(&cast.olga).key(&id()).expect(201).await;
}

/// What is held is taken away and erased on pages, each after the password.
#[tokio::test]
async fn what_is_held_is_taken_away_and_erased_on_pages() {
    let api = own();
    let cast = api.cast().await;
    let night = api.night(&cast).await;
    api.hand_in(&night.event, &cast.ann, &crate::support::harness::round(&night.ann)).await;
    let (olga, ann) = (Browser::of(&api, &cast.olga.email).await, Browser::of(&api, &cast.ann.email).await);
    let ben = Browser::of(&api, &cast.ben.email).await;
    let (held, member) = (format!("/members/{}/held", night.ann), format!("/members/{}", night.ann));
    assert!(ann.see(&member).await.contains(&held) && olga.see(&member).await.contains(&held));
    assert!(!ben.see(&member).await.contains(&held));
    let (export, erasure) = (format!("{member}/export"), format!("{member}/erasure"));
    let bundle = format!("/leagues/{}/bundle", night.league);
    let taken = ann.send(&export, &[]).await;
    assert!(taken.header("content-disposition").starts_with("attachment") && taken.text().contains(&cast.ann.email));
    assert!(olga.send(&bundle, &[]).await.text().starts_with("{\"kind\":\"league\""));
    for (browser, path) in [(&olga, &export), (&ben, &export), (&ben, &erasure), (&ben, &bundle)] {
        browser.refused(path, &[("version", "1"), ("seen", "yes")], 403).await;
    }
    api.server.pass(301);
    for (browser, path) in [(&ann, &export), (&olga, &bundle), (&ann, &erasure)] {
        let asked = browser.refused(path, &[("version", "1"), ("seen", "yes"), ("name", "Ann")], 401).await;
        assert!(asked.contains(&format!("name=\"afresh_to\" value=\"{path}\"")), "{asked}");
    }
    let ann = Browser::of(&api, &cast.ann.email).await;
    let stale = [("version", "7"), ("seen", "yes"), ("name", "Ann")];
    assert!(ann.refused(&erasure, &stale, 412).await.contains("Nothing was changed"));
    let shown = ann.see(&held).await;
    let asked = ann.send(&erasure, &pairs(&fields_of(&shown, &erasure))).await.text();
    let mut fields = fields_of(&asked, &erasure);
    fields.extend([("seen".into(), "yes".into()), ("name".into(), "Ann".into())]);
    let gone = ann.send(&erasure, &pairs(&fields)).await;
    assert_eq!((gone.status, gone.header("location")), (303, "/leagues"), "{gone}");
    assert!(olga.see(&member).await.contains("Former player 1"));
}

/// Has the findings about the set-up answered by Olga and ruled upon by somebody from outside.
async fn rule_on_setups(api: &Api, cast: &Cast, night: &Night) {
    let rita = api.person("Rita").await;
    let all = api.get(format!("/leagues/{}/findings?limit=200", night.league)).by(&cast.olga).expect(200).await.json();
    let found = all["items"].as_array().expect("items").iter();
    for found in found.filter(|found| found["subject"]["setup_id"] == night.setup.as_str()) {
        let setup = text(found, "id");
        let said = json!({ "text": "it is how the bay came" });
        api.post(format!("/findings/{setup}/statements"), &said).by(&cast.olga).key(&id()).expect(201).await;
        let invitation = json!({ "role": "reviewer", "finding_id": setup });
        let path = format!("/leagues/{}/invitations", night.league);
        let code = text(&api.post(path, &invitation).by(&cast.olga).expect(201).await.json(), "code");
        api.call("POST", &format!("/invitations/{code}/acceptance")).by(&rita).expect(201).await;
        let nothing = json!({ "decision": "no_action", "reason": "a worn mat" });
        api.post(format!("/findings/{setup}/rulings"), &nothing).by(&rita).key(&id()).expect(201).await;
    }
}

/// Where every organizer is concerned, somebody from outside rules on pages, and sees this finding and nothing else.
#[tokio::test]
async fn a_reviewer_from_outside_rules_and_sees_nothing_else() {
    let (api, cast) = shared().await;
    let night = api.night(&cast).await;
    let (player, rounds) = api.finding(&cast, &night, &cast.olga, &night.olga).await;
    let (setup, _) = api.setup_finding(&cast, &night, &cast.olga, &night.olga).await;
    let (olga, otto) = (Browser::of(&api, &cast.olga.email).await, Browser::of(&api, &cast.otto.email).await);
    let at = format!("/findings/{player}");
    olga.does(&format!("{at}/statements"), &[("form", "statement"), ("text", "I, Olga, had bay 1.")]).await;
    assert!(!olga.see(&at).await.contains("name=\"decision\""), "nobody rules on oneself");
    let made = olga.send(&format!("{at}/reviewers"), &[]).await.text();
    let of = |page: &str| page.split("<code>").nth(1).map(|rest| rest.split('<').next().unwrap_or_default().to_owned());
    let again = olga.send(&format!("{at}/reviewers"), &[]).await.text();
    assert_eq!(of(&made), of(&again), "a page that is loaded again makes no second code");
    let code = made.split("<code>").nth(1).and_then(|rest| rest.split('<').next()).expect("a code").to_owned();
    let entered = otto.send("/join", &[("code", &code)]).await;
    assert_eq!(entered.header("location"), at, "{entered}");

    let seen = otto.see(&at).await;
    assert!(seen.contains("I, Player A, had bay 1."), "{seen}");
    let other = "on a simulator that has a finding of its own";
    assert!(olga.see(&at).await.contains(other), "whom it concerns knows of the other one too");
    let told = api.get(&at).by(&cast.otto).expect(200).await.text();
    assert!(!seen.contains(other) && !told.contains(other), "a reviewer learns of no other finding: {told}");
    for other in ["Olga", "Ann", "Thursday", "Bay 1", &night.league, &night.olga, "/rounds/", "Europe/Zurich"] {
        assert!(!seen.contains(other), "{other} is more than the finding: {seen}");
    }
    for href in seen.split("href=\"/").skip(1) {
        let path = format!("/{}", href.split('"').next().expect("an address"));
        let seen = page(&api, &path, &otto.cookie).send().await;
        assert!([200, 303].contains(&seen.status), "the page leads to what is not for a reviewer: {seen}");
    }
    let paths = ["leagues/{l}", "leagues/{l}/findings", "members/{o}", "rounds/{r}", "seasons/{s}", "findings/{f}"];
    for path in paths {
        let path = path.replace("{l}", &night.league).replace("{o}", &night.olga).replace("{r}", &rounds[0]);
        let path = path.replace("{s}", &night.season).replace("{f}", &setup);
        page(&api, &format!("/{path}"), &otto.cookie).expect(404).await;
    }
    assert!(otto.refused(&format!("{at}/reviewers"), &[], 404).await.contains("not found, or you have no access"));
    let rulings = format!("{at}/rulings");
    let ruling = [("form", "ruling"), ("decision", "no_action"), ("reason", "The bay explains Olga’s putts.")];
    assert!(!seen.contains("name=\"decision\""), "the set-up is ruled upon first: {seen}");
    let waits = otto.refused(&rulings, &ruling, 409).await;
    assert!(waits.contains("another question") && !waits.contains(other), "{waits}");
    rule_on_setups(&api, &cast, &night).await;
    assert!(otto.see(&at).await.contains("name=\"decision\""));
    let preview = otto.send(&rulings, &ruling).await.text();
    assert!(preview.contains("The standings would not change"), "{preview}");
    let kept = fields_of(&preview, &rulings);
    let mut give = pairs(&kept);
    give.push(("seen", "yes"));
    otto.does(&rulings, &give).await;
    let ruled = olga.see(&at).await;
    assert!(ruled.contains("An outside reviewer") && ruled.contains("Olga’s putts"), "who ruled, and why: {ruled}");
    assert!(otto.see(&at).await.contains("explains Player A’s putts"));
    assert_eq!(text(&api.get(&at).by(&cast.olga).expect(200).await.json(), "state"), "ruled");
}
