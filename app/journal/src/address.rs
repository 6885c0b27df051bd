//! The addresses of the HTTP interface, each once: its method and path, who may ask, what is sent and what
//! comes back.
//!
//! The server builds its router from these constants, so that no handler stands without a permission;
//! clients build their requests from them; the access test asks every row of [`TABLE`] as every role; and
//! [`description`] writes the table down for those who write other clients.

mod describe;
mod form;

pub use describe::description;
pub use form::{
    Cbor, CborSequence, Csv, Events, Form, Jpeg, Json, JsonLines, Nothing, Octets, Text,
};

use crate::access::Permission;
use crate::auth_messages::{
    Challenge, ChallengeAnswer, Code, EnrolAnswer, EnrolRequest, ServerCard, SessionCard, ShipCard,
};
use crate::board::{Board, RunPage, VesselCard, VesselPage};
use crate::body::{Person, VesselBody};
use crate::catalogue::{DefectsPage, ProcedureCard, ProcedurePage, RoundsPage, SettingsPage};
use crate::crew::{
    CodeQuestion, CrewPage, Doubt, DoubtQuestion, PersonDraft, ShipDraft, WithdrawAnswer,
    WithdrawQuestion,
};
use crate::drills::DrillsPage;
use crate::gear::{GearPage, ItemPage};
use crate::log::{HeadAnswer, Inclusion, LogCard, Showing};
use crate::photos::{LackingPhoto, LackingQuery, PhotoProgress};
use crate::setup::SetupPage;
use crate::survey::SurveyPage;
use crate::watch::{InputsPage, NightPage, WatchPage};
use record::merkle::ConsistencyProof;
use record::sync::{Have, HaveReply, PullRequest, PushReply};
use std::fmt::Display;
use std::marker::PhantomData;

/// How an address is asked.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Method {
    /// Read; HEAD reads the same without its body.
    Get,
    /// Send a question or a change.
    Post,
    /// Bring something whose name is its content.
    Put,
    /// End something.
    Delete,
}

impl Method {
    /// Returns the method as it stands in a request.
    pub const fn name(self) -> &'static str {
        match self {
            Self::Get => "GET",
            Self::Post => "POST",
            Self::Put => "PUT",
            Self::Delete => "DELETE",
        }
    }
}

/// Whose records a permission is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Whose {
    /// Those of the vessel, or office, whose server is asked.
    OwnVessel,
    /// Those of the vessel that vouches for the caller.
    CallersVessel,
    /// Those of the vessel that the path names first.
    PathVessel,
    /// Those of the vessel that the body names.
    BodyVessel,
    /// First the caller's own, then those of each vessel that has something to answer: the answer leaves
    /// the others out.
    EachVessel,
}

/// What a caller who has signed in needs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Gate {
    /// Nothing more: the request concerns the caller's own session.
    SignedIn,
    /// A permission, for somebody's records.
    Needs(Permission, Whose),
}

/// Who may ask.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Access {
    /// Anybody, without signing in.
    Open,
    /// Whoever has signed in and passes this gate.
    Gated(Gate),
}

/// Says that anybody may ask.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Anybody;

/// An address: `N` parameters in its path, `W` who may ask, `Q` sent, `A` answered.
#[derive(Debug)]
pub struct Entry<const N: usize, W, Q, A> {
    method: Method,
    path: &'static str,
    who: W,
    query: &'static [&'static str],
    summary: &'static str,
    form: PhantomData<fn(Q) -> A>,
}

/// An address for callers who have signed in.
pub type Address<const N: usize, Q, A> = Entry<N, Gate, Q, A>;

/// An address for anybody. Only what is listed with this type is served without a session.
pub type OpenAddress<const N: usize, Q, A> = Entry<N, Anybody, Q, A>;

/// A path whose parameters are filled in, with what is sent there and what comes back.
#[derive(Debug)]
pub struct Url<Q, A> {
    text: String,
    form: PhantomData<fn(Q) -> A>,
}

impl<Q, A> Url<Q, A> {
    /// Puts a parameter after the path.
    #[must_use]
    pub fn with(mut self, name: &str, value: impl Display) -> Self {
        let sign = if self.text.contains('?') { '&' } else { '?' };
        self.text = format!("{}{sign}{name}={value}", self.text);
        self
    }

    /// Returns the path, with what stands after it.
    pub fn as_str(&self) -> &str {
        &self.text
    }

    /// Returns the path as text of its own.
    pub fn into_string(self) -> String {
        self.text
    }
}

/// Fills the parameters of a path in, in order.
fn fill(path: &str, values: &[&dyn Display]) -> String {
    let mut values = values.iter();
    let parts = path.split('/').map(|part| match values.as_slice() {
        [first, ..] if part.starts_with('{') => {
            values.next();
            first.to_string()
        }
        _ => part.to_owned(),
    });
    parts.collect::<Vec<_>>().join("/")
}

const fn parameters(path: &str) -> usize {
    let (bytes, mut at, mut count) = (path.as_bytes(), 0, 0);
    while at < bytes.len() {
        if bytes[at] == b'{' {
            count += 1;
        }
        at += 1;
    }
    count
}

impl<const N: usize, W: Copy, Q, A> Entry<N, W, Q, A> {
    const fn new(
        method: Method,
        path: &'static str,
        who: W,
        query: &'static [&'static str],
        summary: &'static str,
    ) -> Self {
        Self {
            method,
            path,
            who,
            query,
            summary,
            form: PhantomData,
        }
    }

    /// Returns the method.
    pub const fn method(&self) -> Method {
        self.method
    }

    /// Returns the path, with `{name}` for each parameter.
    pub const fn path(&self) -> &'static str {
        self.path
    }

    /// Returns who may ask.
    pub const fn who(&self) -> W {
        self.who
    }

    /// Fills the path's parameters in.
    pub fn at(&self, values: [&dyn Display; N]) -> Url<Q, A> {
        Url {
            text: fill(self.path, &values),
            form: PhantomData,
        }
    }
}

impl<const N: usize, W: Copy, Q: Form, A: Form> Entry<N, W, Q, A> {
    const fn listed(&self, access: Access) -> Row {
        Row {
            method: self.method,
            path: self.path,
            access,
            query: self.query,
            summary: self.summary,
            request: Q::name,
            answer: A::name,
        }
    }
}

impl<const N: usize, Q: Form, A: Form> Address<N, Q, A> {
    /// Returns the row of [`TABLE`].
    pub const fn row(&self) -> Row {
        self.listed(Access::Gated(self.who))
    }
}

impl<const N: usize, Q: Form, A: Form> OpenAddress<N, Q, A> {
    /// Returns the row of [`TABLE`].
    pub const fn row(&self) -> Row {
        self.listed(Access::Open)
    }
}

/// What the table says of an address.
#[derive(Debug, Clone, Copy)]
pub struct Row {
    /// How it is asked.
    pub method: Method,
    /// Where, with `{name}` for each parameter.
    pub path: &'static str,
    /// Who may ask.
    pub access: Access,
    /// Parameters that may stand after the path.
    pub query: &'static [&'static str],
    /// What it does, in a sentence.
    pub summary: &'static str,
    /// Names what is sent.
    pub request: fn() -> String,
    /// Names what comes back.
    pub answer: fn() -> String,
}

/// Makes a constant of each line, and the table of them all.
macro_rules! addresses {
    ($(
        #[doc = $doc:literal]
        $name:ident: $kind:ident $method:ident $path:literal $([$($query:literal),+])?,
        $who:expr, $request:ty => $answer:ty;
    )+) => {
        $(
            #[doc = $doc]
            pub const $name: $kind<{ parameters($path) }, $request, $answer> = Entry::new(
                Method::$method, $path, $who, &[$($($query),+)?], $doc.trim_ascii(),
            );
        )+
        /// Every address of the interface, in the order in which the description names them.
        pub const TABLE: &[Row] = &[$($name.row()),+];
    };
}

const fn needs(permission: Permission, whose: Whose) -> Gate {
    Gate::Needs(permission, whose)
}

use Gate::SignedIn;
use Permission::{Muster, Read, Reckon, Sync};
use Whose::{BodyVessel, CallersVessel, EachVessel, OwnVessel, PathVessel};

addresses! {
    /// Says that the server is well, or what is wrong with it.
    HEALTH: OpenAddress Get "/healthz", Anybody, Nothing => Text;
    /// Says whose server this is.
    SERVER: OpenAddress Get "/api/v1/enrol", Anybody, Nothing => Json<ServerCard>;
    /// Enrols a person on a device, for a one-time code.
    ENROL: OpenAddress Post "/api/v1/enrol", Anybody, Json<EnrolRequest> => Json<EnrolAnswer>;
    /// Gives a challenge out for a device to sign.
    CHALLENGE: OpenAddress Post "/api/v1/session/challenge", Anybody, Nothing => Json<Challenge>;
    /// Opens a session for a device that has signed its challenge, and sets its cookie.
    SIGN_IN: OpenAddress Post "/api/v1/session", Anybody, Json<ChallengeAnswer> => Json<SessionCard>;
    /// Gives a challenge out for the key of whoever is signed in to sign a request with.
    ACT_CHALLENGE: Address Post "/api/v1/session/act", SignedIn, Nothing => Json<Challenge>;
    /// Says who is signed in.
    SESSION: Address Get "/api/v1/session", SignedIn, Nothing => Json<SessionCard>;
    /// Ends the session.
    SIGN_OUT: Address Delete "/api/v1/session", SignedIn, Nothing => Nothing;
    /// Says how far each chain is here, and what the caller has that is not.
    SYNC_HAVE: Address Post "/api/v1/sync/have" ["device", "time"], needs(Sync, BodyVessel), Cbor<Have> => Cbor<HaveReply>;
    /// Takes a page of records in.
    SYNC_PUSH: Address Post "/api/v1/sync/push" ["device", "time"], needs(Sync, CallersVessel), CborSequence => Cbor<PushReply>;
    /// Gives a page of the records that the caller lacks.
    SYNC_PULL: Address Post "/api/v1/sync/pull", needs(Sync, BodyVessel), Cbor<PullRequest> => CborSequence;
    /// Gives a photograph, or a voice note, out by its SHA-256, where a vessel that names it may be read.
    PHOTO: Address Get "/api/v1/photos/{photo}", needs(Read, EachVessel), Nothing => Jpeg;
    /// Takes a photograph, or a voice note, in that a record names.
    PHOTO_PUT: Address Put "/api/v1/photos/{photo}", needs(Sync, CallersVessel), Jpeg => Nothing;
    /// Takes the next part of a photograph in.
    PHOTO_PART: Address Post "/api/v1/photos/{photo}/part" ["from", "of"], needs(Sync, CallersVessel), Octets => Json<PhotoProgress>;
    /// Names photographs of a vessel that are lacking here.
    PHOTOS_LACKING: Address Post "/api/v1/vessels/{vessel}/photos/lacking", needs(Sync, PathVessel), Json<LackingQuery> => Json<Vec<LackingPhoto>>;
    /// Reckons a sum for each line.
    RECKON: Address Post "/api/v1/reckon/{name}", needs(Reckon, CallersVessel), JsonLines => JsonLines;
    /// Takes somebody on, or changes their entry.
    CREW_PERSON: Address Post "/api/v1/crew/person", needs(Muster, OwnVessel), Json<PersonDraft> => Json<Person>;
    /// Hands a one-time code out for one person.
    CREW_CODE: Address Post "/api/v1/crew/code", needs(Muster, OwnVessel), Json<CodeQuestion> => Json<Code>;
    /// Shows what would be in doubt of a key that is withdrawn.
    CREW_DOUBT: Address Post "/api/v1/crew/doubt", needs(Muster, OwnVessel), Json<DoubtQuestion> => Json<Doubt>;
    /// Withdraws a key.
    CREW_WITHDRAW: Address Post "/api/v1/crew/withdraw", needs(Muster, OwnVessel), Json<WithdrawQuestion> => Json<WithdrawAnswer>;
    /// Changes the ship's particulars.
    CREW_SHIP: Address Post "/api/v1/crew/ship", needs(Muster, OwnVessel), Json<ShipDraft> => Json<VesselBody>;
    /// Shows the ship with her crew.
    SHIP: Address Get "/api/v1/ship", needs(Read, OwnVessel), Nothing => Json<ShipCard>;
    /// Shows the crew, their keys, and when each was heard.
    CREW: Address Get "/api/v1/crew", needs(Read, OwnVessel), Nothing => Json<CrewPage>;
    /// Shows the board: runs, holds, alarms.
    BOARD: Address Get "/api/v1/board", needs(Read, OwnVessel), Nothing => Json<Board>;
    /// Sends the board now and whenever it changes, and a beat between; with `news` only what has changed.
    LIVE: Address Get "/api/v1/live" ["news"], needs(Read, OwnVessel), Nothing => Events<Board>;
    /// Lists the procedures in force.
    PROCEDURES: Address Get "/api/v1/procedures", needs(Read, OwnVessel), Nothing => Json<Vec<ProcedureCard>>;
    /// Shows a procedure.
    PROCEDURE: Address Get "/api/v1/procedures/{slug}", needs(Read, OwnVessel), Nothing => Json<ProcedurePage>;
    /// Shows the rounds, and what is due.
    ROUNDS: Address Get "/api/v1/rounds", needs(Read, OwnVessel), Nothing => Json<RoundsPage>;
    /// Shows who is in date for which drill and induction.
    DRILLS: Address Get "/api/v1/drills", needs(Read, OwnVessel), Nothing => Json<DrillsPage>;
    /// Shows what a surveyor will ask for, and what of it is missing.
    SURVEY: Address Get "/api/v1/survey", needs(Read, OwnVessel), Nothing => Json<SurveyPage>;
    /// Shows the defects.
    DEFECTS: Address Get "/api/v1/defects", needs(Read, OwnVessel), Nothing => Json<DefectsPage>;
    /// Shows the register of the ship's gear.
    GEAR: Address Get "/api/v1/gear", needs(Read, OwnVessel), Nothing => Json<GearPage>;
    /// Shows an item of the ship's gear.
    GEAR_ITEM: Address Get "/api/v1/gear/{item}", needs(Read, OwnVessel), Nothing => Json<ItemPage>;
    /// Gives the register of the ship's gear out as a table.
    GEAR_TABLE: Address Get "/gear.csv", needs(Read, OwnVessel), Nothing => Csv;
    /// Shows the anchor watch.
    WATCH: Address Get "/api/v1/watch", needs(Read, OwnVessel), Nothing => Json<WatchPage>;
    /// Sends the anchor watch now and each second.
    WATCH_LIVE: Address Get "/api/v1/watch/live", needs(Read, OwnVessel), Nothing => Events<WatchPage>;
    /// Shows what is heard of the ship's instruments.
    WATCH_INPUTS: Address Get "/api/v1/watch/inputs", needs(Read, OwnVessel), Nothing => Json<InputsPage>;
    /// Shows the last day of the anchor watch: its minutes, and its alarms with who saw them.
    WATCH_NIGHT: Address Get "/api/v1/watch/night", needs(Read, OwnVessel), Nothing => Json<NightPage>;
    /// Gives the anchor watch's minutes out as a table.
    WATCH_TABLE: Address Get "/watch.csv", needs(Read, OwnVessel), Nothing => Csv;
    /// Tries each way by which alarms leave the program, and says what came of it; the text sent is not used.
    WATCH_TRY: Address Post "/api/v1/watch/try", needs(Sync, OwnVessel), Json<String> => Json<Vec<String>>;
    /// Shows what is still to be said in the first hour aboard.
    SETUP: Address Get "/api/v1/setup", needs(Read, OwnVessel), Nothing => Json<SetupPage>;
    /// Gives the ship's limits and cables out as a table.
    LIMITS_TABLE: Address Get "/limits.csv", needs(Read, OwnVessel), Nothing => Csv;
    /// Shows the settings in force.
    SETTINGS: Address Get "/api/v1/settings", needs(Read, OwnVessel), Nothing => Json<SettingsPage>;
    /// Shows the standing of this server's own log.
    LOG: Address Get "/api/v1/log", needs(Read, OwnVessel), Nothing => Json<LogCard>;
    /// Lists the vessels that the caller may read.
    VESSELS: Address Get "/api/v1/vessels", needs(Read, EachVessel), Nothing => Json<Vec<VesselCard>>;
    /// Shows a vessel's board.
    VESSEL: Address Get "/api/v1/vessels/{vessel}", needs(Read, PathVessel), Nothing => Json<Board>;
    /// Lists a vessel's runs.
    VESSEL_RUNS: Address Get "/api/v1/vessels/{vessel}/runs", needs(Read, PathVessel), Nothing => Json<VesselPage>;
    /// Shows a vessel's runs that were started before one of them, as many as a page holds.
    VESSEL_EARLIER: Address Get "/api/v1/vessels/{vessel}/earlier/{run}", needs(Read, PathVessel), Nothing => Json<VesselPage>;
    /// Shows a run, with every record of it.
    RUN: Address Get "/api/v1/vessels/{vessel}/runs/{run}", needs(Read, PathVessel), Nothing => Json<RunPage>;
    /// Gives a vessel's signed records out, with the keys to check them.
    VESSEL_RECORDS: Address Get "/api/v1/vessels/{vessel}/records.cborseq", needs(Read, PathVessel), Nothing => CborSequence;
    /// Gives a run's signed records out, with the keys to check them.
    RUN_RECORDS: Address Get "/api/v1/vessels/{vessel}/runs/{run}/records.cborseq", needs(Read, PathVessel), Nothing => CborSequence;
    /// Gives a run out as a table.
    RUN_TABLE: Address Get "/api/v1/vessels/{vessel}/runs/{run}/records.csv", needs(Read, PathVessel), Nothing => Csv;
    /// Gives all runs of a vessel out as one table.
    VESSEL_TABLE: Address Get "/api/v1/vessels/{vessel}/records.csv", needs(Read, PathVessel), Nothing => Csv;
    /// Shows the standing of a vessel's log.
    VESSEL_LOG: Address Get "/api/v1/vessels/{vessel}/log", needs(Read, PathVessel), Nothing => Json<LogCard>;
    /// Gives the signed head of a vessel's log: a C2SP checkpoint in a signed note.
    LOG_HEAD: Address Get "/api/v1/vessels/{vessel}/log/head", needs(Read, PathVessel), Nothing => Text;
    /// Proves that the log of each size `from` begins the log of size `to`.
    LOG_CONSISTENCY: Address Get "/api/v1/vessels/{vessel}/log/consistency" ["from", "to"], needs(Read, PathVessel), Nothing => Json<Vec<ConsistencyProof>>;
    /// Proves that a record stands in the log.
    LOG_INCLUSION: Address Get "/api/v1/vessels/{vessel}/log/inclusion" ["record", "leaf", "size"], needs(Read, PathVessel), Nothing => Json<Inclusion>;
    /// Takes a head that the caller remembers, and says whether it agrees.
    LOG_SEEN: Address Post "/api/v1/vessels/{vessel}/log/seen", needs(Sync, PathVessel), Json<Showing> => Json<HeadAnswer>;
}

/// A page of the program.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Page {
    /// Its path, with `{name}` for each parameter.
    pub path: &'static str,
    /// Whether it shows no record and is needed by who is not enrolled: without a session it answers 200,
    /// every other page 401. The server draws neither without a session.
    pub is_open: bool,
}

const fn open(path: &'static str) -> Page {
    let is_open = true;
    Page { path, is_open }
}

const fn gated(path: &'static str) -> Page {
    let is_open = false;
    Page { path, is_open }
}

/// Every page of the program. What a drawn page shows it reads from [`TABLE`]'s addresses, whose
/// permissions hold there too.
pub const PAGES: &[Page] = &[
    open("/"),
    open("/bow"),
    open("/bow/enrol"),
    open("/proof"),
    gated("/bow/phone"),
    gated("/bow/run/{run}"),
    gated("/bow/plan"),
    gated("/plan"),
    gated("/bridge"),
    gated("/procedures"),
    gated("/procedures/{slug}"),
    gated("/procedures/{slug}/card"),
    gated("/defects"),
    gated("/gear"),
    gated("/gear/labels"),
    gated("/gear/kinds"),
    gated("/gear/{item}"),
    gated("/rounds"),
    gated("/drills"),
    gated("/survey"),
    gated("/watch"),
    gated("/watch/inputs"),
    gated("/watch/night"),
    gated("/foredeck"),
    gated("/marks"),
    gated("/crew"),
    gated("/settings"),
    gated("/setup"),
    gated("/office"),
    gated("/roll"),
    gated("/office/{vessel}"),
    gated("/office/{vessel}/roll"),
    gated("/office/{vessel}/run/{run}"),
    gated(MOVED[0].0),
    gated(MOVED[1].0),
    gated(MOVED[2].0),
];

/// Addresses that pages had before, each with the one that it leads to now.
pub const MOVED: [(&str, &str); 3] = [
    ("/log", "/roll"),
    ("/office/{vessel}/log", "/office/{vessel}/roll"),
    ("/bow/duty", "/bow/phone"),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_path_is_filled_in_order_and_a_query_follows() {
        let url = RUN.at([&"v", &"r"]);
        assert_eq!(url.as_str(), "/api/v1/vessels/v/runs/r");
        let url = PHOTO_PART.at([&"aa"]).with("from", 0).with("of", 9);
        assert_eq!(url.as_str(), "/api/v1/photos/aa/part?from=0&of=9");
        assert_eq!(BOARD.at([]).into_string(), "/api/v1/board");
    }

    #[test]
    fn no_address_stands_twice_and_who_names_a_vessel_in_the_path_has_one_there() {
        for (at, row) in TABLE.iter().enumerate() {
            let same = |other: &Row| (other.method, other.path) == (row.method, row.path);
            assert_eq!(TABLE.iter().position(same), Some(at), "{}", row.path);
            let is_named = row.path.contains("/{vessel}");
            let is_asked = matches!(row.access, Access::Gated(Gate::Needs(_, PathVessel)));
            assert_eq!(is_named, is_asked, "{}", row.path);
        }
    }
}
