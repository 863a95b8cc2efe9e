//! The kinds of problems. A kind without its page under `docs/problems`, or a rule without its kind, does not compile.

use crate::domain::rule::Rule;
use actix_web::http::StatusCode;

/// What all problems of a kind have in common.
#[derive(Debug)]
pub struct About {
    /// The status of such a problem by itself.
    pub status: StatusCode,
    /// The last part of its type.
    pub slug: &'static str,
    /// Its title.
    pub title: &'static str,
    /// Its page, in Markdown.
    pub page: &'static str,
}

macro_rules! kinds {
    (
        rules { $($rule:ident: $rule_status:ident, $rule_slug:literal, $rule_title:literal;)* }
        requests { $($name:ident: $status:ident, $slug:literal, $title:literal;)* }
    ) => {
        /// A kind of problem.
        #[derive(Clone, Copy, Debug, PartialEq, Eq)]
        pub enum Kind {
            /// A rule is broken.
            Broken(Rule),
            $(#[doc = $title] $name,)*
        }

        impl Kind {
            /// Every kind.
            pub const ALL: &[Self] = &[$(Self::Broken(Rule::$rule),)* $(Self::$name,)*];

            /// Returns what all problems of this kind have in common.
            pub fn about(self) -> &'static About {
                match self {
                    $(Self::Broken(Rule::$rule) => about!($rule_status, $rule_slug, $rule_title),)*
                    $(Self::$name => about!($status, $slug, $title),)*
                }
            }
        }
    };
}

macro_rules! about {
    ($status:ident, $slug:literal, $title:literal) => {
        &About {
            status: StatusCode::$status,
            slug: $slug,
            title: $title,
            page: include_str!(concat!("../../docs/problems/", $slug, ".md")),
        }
    };
}

kinds! {
    rules {
        AlreadyEntered: CONFLICT, "already-entered", "Entered already";
        AlreadyMember: CONFLICT, "already-member", "Already a member";
        AnswerAwaited: CONFLICT, "answer-awaited", "The players concerned may reply first";
        AwardOrder: UNPROCESSABLE_ENTITY, "award-order", "A later place is worth more";
        CardsWaiting: CONFLICT, "cards-waiting", "Cards wait to be accepted";
        CompetitionInUse: CONFLICT, "competition-in-use", "A competition rests on it";
        CompetitionMisfit: UNPROCESSABLE_ENTITY, "competition-misfit", "Terms that mean nothing together";
        ConcessionTooLong: UNPROCESSABLE_ENTITY, "concession-too-long", "Too long a putt was conceded";
        CourseInUse: CONFLICT, "course-in-use", "The course is played";
        DateOrder: UNPROCESSABLE_ENTITY, "date-order", "Dates in the wrong order";
        FlightRepeated: UNPROCESSABLE_ENTITY, "flight-repeated", "Two flights share a name";
        FlightsOverlap: UNPROCESSABLE_ENTITY, "flights-overlap", "Flights overlap";
        HandicapAct: UNPROCESSABLE_ENTITY, "handicap-act", "Not a handicap act";
        HandicapPolicy: UNPROCESSABLE_ENTITY, "handicap-policy", "Handicap terms that do not fit each other";
        EventFinal: CONFLICT, "event-final", "The event is final";
        EventHasCards: CONFLICT, "event-has-cards", "The event has cards";
        EventNotOpen: CONFLICT, "event-not-open", "The event is not open";
        EventNotOver: CONFLICT, "event-not-over", "The event is not over";
        EventVoid: CONFLICT, "event-void", "The event is void";
        FirstHole: UNPROCESSABLE_ENTITY, "first-hole", "Not a first hole";
        Fixture: UNPROCESSABLE_ENTITY, "fixture", "Not a fixture";
        HasFixtures: CONFLICT, "has-fixtures", "Fixtures rest on it";
        HoleCount: UNPROCESSABLE_ENTITY, "hole-count", "Neither 9 nor 18 holes";
        HoleMissing: UNPROCESSABLE_ENTITY, "hole-missing", "A hole is missing";
        HoleNotOnCard: UNPROCESSABLE_ENTITY, "hole-not-on-card", "The hole is not played";
        HoleNotPlayed: UNPROCESSABLE_ENTITY, "hole-not-played", "A hole that was not played has strokes";
        HoleRepeated: UNPROCESSABLE_ENTITY, "hole-repeated", "A hole is given twice";
        HolesSettled: CONFLICT, "holes-settled", "Rounds were handed in already";
        InvalidTransition: CONFLICT, "invalid-transition", "Not possible now";
        LastCompetition: CONFLICT, "last-competition", "A season has a competition";
        LastOrganizer: CONFLICT, "last-organizer", "The last organizer";
        LastPuttUnholed: UNPROCESSABLE_ENTITY, "last-putt-unholed", "The last putt was not holed";
        LeagueExists: CONFLICT, "league-exists", "The league is there already";
        LeaveOfHoled: UNPROCESSABLE_ENTITY, "leave-of-holed", "A holed putt with a leave";
        NameTaken: UNPROCESSABLE_ENTITY, "name-taken", "The name is taken";
        NineRepeated: UNPROCESSABLE_ENTITY, "nine-repeated", "A nine is rated twice";
        NineStart: UNPROCESSABLE_ENTITY, "nine-start", "Not the start of a nine";
        NoCountingCard: CONFLICT, "no-counting-card", "No card counts";
        NoLeague: UNPROCESSABLE_ENTITY, "no-league", "No league";
        NotAZone: UNPROCESSABLE_ENTITY, "not-a-zone", "Not a time zone";
        NotAnAddress: UNPROCESSABLE_ENTITY, "not-an-address", "Not an address";
        NotInTeam: UNPROCESSABLE_ENTITY, "not-in-team", "Not in the team";
        NothingToAccept: CONFLICT, "nothing-to-accept", "Nothing to accept";
        NothingToUndo: CONFLICT, "nothing-to-undo", "Nothing to undo";
        OutsideSeason: UNPROCESSABLE_ENTITY, "outside-season", "Outside the season";
        OwnRound: UNPROCESSABLE_ENTITY, "own-round", "Not your own witness";
        PasswordRefused: UNPROCESSABLE_ENTITY, "password-refused", "The password is not acceptable";
        PlayedInFuture: UNPROCESSABLE_ENTITY, "played-in-future", "Played on a day to come";
        PlayedOutsideEvent: UNPROCESSABLE_ENTITY, "played-outside-event", "Played outside the event";
        PointsTable: UNPROCESSABLE_ENTITY, "points-table", "A points table with a gap";
        PuttAfterHoling: UNPROCESSABLE_ENTITY, "putt-after-holing", "A putt after the ball was holed";
        PuttCount: UNPROCESSABLE_ENTITY, "putt-count", "Putts listed and counted";
        PuttsExceedStrokes: UNPROCESSABLE_ENTITY, "putts-exceed-strokes", "More putts than strokes";
        ReadOnly: UNPROCESSABLE_ENTITY, "read-only", "Computed by the server";
        ReasonMissing: UNPROCESSABLE_ENTITY, "reason-missing", "A reason is needed";
        RepeatedId: UNPROCESSABLE_ENTITY, "repeated-id", "An id is given twice";
        RoundExists: CONFLICT, "round-exists", "Another round has this client_round_id";
        RoundMissing: UNPROCESSABLE_ENTITY, "round-missing", "The card is missing";
        RoundWithdrawn: CONFLICT, "round-withdrawn", "The round was withdrawn";
        RoundsMissing: UNPROCESSABLE_ENTITY, "rounds-missing", "The rounds are missing";
        SameName: CONFLICT, "same-name", "Somebody has this name";
        SeasonMissing: UNPROCESSABLE_ENTITY, "season-missing", "A season is needed";
        SecondLeague: UNPROCESSABLE_ENTITY, "second-league", "A second league";
        SecondRound: CONFLICT, "second-round", "A second round in one event";
        SecondTeam: CONFLICT, "second-team", "In another team already";
        Settled: UNPROCESSABLE_ENTITY, "settled", "Settled when it was handed in";
        SetupFirst: CONFLICT, "setup-first", "The simulator comes first";
        SetupInUse: CONFLICT, "setup-in-use", "The simulator is in use";
        SideContest: UNPROCESSABLE_ENTITY, "side-contest", "Not a side contest";
        StrokeIndexRepeated: UNPROCESSABLE_ENTITY, "stroke-index-repeated", "A stroke index is given twice";
        StrokesMissing: UNPROCESSABLE_ENTITY, "strokes-missing", "Strokes are missing";
        Substitute: UNPROCESSABLE_ENTITY, "substitute", "Not a substitute";
        TeamSettled: CONFLICT, "team-settled", "The team played in a final event";
        TeeAssignment: UNPROCESSABLE_ENTITY, "tee-assignment", "Not an assignment of a tee";
        TeeDoesNotFit: UNPROCESSABLE_ENTITY, "tee-does-not-fit", "The tee cannot stage the event";
        TeeInUse: UNPROCESSABLE_ENTITY, "tee-in-use", "The tee is played";
        TeeRepeated: UNPROCESSABLE_ENTITY, "tee-repeated", "Two tees share an id";
        TermsInUse: CONFLICT, "terms-in-use", "Cards hold what the terms would forbid";
        TermsSettled: CONFLICT, "terms-settled", "The terms are settled";
        TimeOrder: UNPROCESSABLE_ENTITY, "time-order", "Times in the wrong order";
        TooMany: CONFLICT, "too-many", "There are enough of them";
        TooManyCompetitions: CONFLICT, "too-many-competitions", "The season has enough competitions";
        UnequalHoles: UNPROCESSABLE_ENTITY, "unequal-holes", "Events of unequal holes";
        UnknownFlight: UNPROCESSABLE_ENTITY, "unknown-flight", "No such flight";
        UnknownCompetition: UNPROCESSABLE_ENTITY, "unknown-competition", "No such competition";
        UnknownEvent: UNPROCESSABLE_ENTITY, "unknown-event", "No such event";
        UnknownId: UNPROCESSABLE_ENTITY, "unknown-id", "No such id";
        UnknownMember: UNPROCESSABLE_ENTITY, "unknown-member", "No such member";
        UnknownSeason: UNPROCESSABLE_ENTITY, "unknown-season", "No such season";
        UnknownSetup: UNPROCESSABLE_ENTITY, "unknown-setup", "Not a simulator for this player";
        UnknownTeam: UNPROCESSABLE_ENTITY, "unknown-team", "No such team";
        UnknownTee: UNPROCESSABLE_ENTITY, "unknown-tee", "No such tee";
        Validation: UNPROCESSABLE_ENTITY, "validation", "Fields are wrong";
        WrongPassword: UNPROCESSABLE_ENTITY, "wrong-password", "The password is wrong";
    }
    requests {
        AccountExists: CONFLICT, "account-exists", "The account exists already";
        BadCursor: BAD_REQUEST, "bad-cursor", "Unusable cursor";
        CodeSpent: GONE, "code-spent", "The code has been used or has expired";
        ConflictOfInterest: FORBIDDEN, "conflict-of-interest", "Not on your own case";
        CrossSite: FORBIDDEN, "cross-site", "Sent from another site";
        Forbidden: FORBIDDEN, "forbidden", "Not allowed";
        IdempotencyKeyMissing: BAD_REQUEST, "idempotency-key-missing", "Idempotency-Key is needed";
        IdempotencyKeyReused: UNPROCESSABLE_ENTITY, "idempotency-key-reused", "The key was used for something else";
        IfMatchMissing: PRECONDITION_REQUIRED, "if-match-missing", "If-Match is needed";
        Internal: INTERNAL_SERVER_ERROR, "internal", "Internal error";
        Malformed: BAD_REQUEST, "malformed", "The request cannot be read";
        MethodNotAllowed: METHOD_NOT_ALLOWED, "method-not-allowed", "Method Not Allowed";
        MisdirectedRequest: MISDIRECTED_REQUEST, "misdirected-request", "Misdirected Request";
        NotAcceptable: NOT_ACCEPTABLE, "not-acceptable", "Not Acceptable";
        NotFound: NOT_FOUND, "not-found", "Not found";
        PayloadTooLarge: PAYLOAD_TOO_LARGE, "payload-too-large", "Payload Too Large";
        QuotaExceeded: TOO_MANY_REQUESTS, "quota-exceeded", "Too many requests";
        ReauthRequired: UNAUTHORIZED, "reauth-required", "Confirm your password";
        RegistrationClosed: FORBIDDEN, "registration-closed", "Registration is not open";
        RequestHeaderFieldsTooLarge: REQUEST_HEADER_FIELDS_TOO_LARGE, "request-header-fields-too-large", "Request Header Fields Too Large";
        RequestTimeout: REQUEST_TIMEOUT, "request-timeout", "Request Timeout";
        Stale: PRECONDITION_FAILED, "stale", "Changed in the meantime";
        StorageFull: SERVICE_UNAVAILABLE, "storage-full", "The disk is full";
        StorageStopped: SERVICE_UNAVAILABLE, "storage-stopped", "The database takes no changes";
        TemporaryReducedCapacity: SERVICE_UNAVAILABLE, "temporary-reduced-capacity", "Busy";
        Unauthenticated: UNAUTHORIZED, "unauthenticated", "Not signed in";
        UnknownParameter: BAD_REQUEST, "unknown-parameter", "Unknown parameter";
        UnsupportedMediaType: UNSUPPORTED_MEDIA_TYPE, "unsupported-media-type", "Unsupported Media Type";
        UriTooLong: URI_TOO_LONG, "uri-too-long", "URI Too Long";
    }
}

impl Kind {
    /// Returns the `type` of its problems: the address of its page.
    pub fn address(self) -> String {
        format!("/problems/{}", self.about().slug)
    }
}

impl From<Rule> for Kind {
    fn from(rule: Rule) -> Self {
        Self::Broken(rule)
    }
}
