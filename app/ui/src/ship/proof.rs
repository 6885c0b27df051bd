//! What the signatures and the log prove, and what they do not: in plain words.

use crate::office::head::OfficeHead;
use crate::words;
use leptos::prelude::*;
use leptos_meta::Title;
use leptos_router::components::A;

const TITLE: &str = "What this proves, and what it does not";
const INTRO: &str = "Every tick is signed on the device that made it, follows from the one before, and stands \
    in the ship's log. This page says what that is worth, who could still cheat, and how it would show.";

/// A part of the page: its heading, then pairs of what is said and what is said of it.
type Part = (&'static str, &'static [(&'static str, &'static str)]);

const PARTS: [Part; 4] = [
    (
        "What it proves",
        &[
            (
                "Nobody changed it",
                "A record is signed with a key that never leaves its device. One changed letter, and the \
                 signature does not fit: every server, every device and any general-purpose program sees it.",
            ),
            (
                "Nothing was taken out",
                "Each device numbers its records and each names the one before: a gap shows. The server's log \
                 holds all of them in the order in which they came. The devices and the office remember its \
                 head and check that each new one follows from it: a record that is taken out of the server \
                 shows on the first device that comes into range.",
            ),
            (
                "Who was vouched for",
                "The ship's key vouches for each device: whose it is, in which role, from when to when. That \
                 stands in the log, too, so nobody can be made an officer afterwards without its showing.",
            ),
        ],
    ),
    (
        "What it does not prove",
        &[
            (
                "That it was done",
                "A signature says that somebody pressed 'Done' on that device. Whether the brake was really on \
                 is for the second pair of eyes, the photograph and the reading.",
            ),
            (
                "Whose thumb it was",
                "Whoever has the device and its PIN signs as its owner. A PIN told to a mate makes the mate's \
                 ticks the owner's, and nothing can tell them apart.",
            ),
            (
                "When it was, to the minute",
                "The time is the device's own. The record's page says when the server had it at the latest, and \
                 where the device had met the server before, from when on it can have been made; the export \
                 carries the ship's signed receipts for both. In between, only the order within one device is \
                 certain, and that a record came after those that it names.",
            ),
        ],
    ),
    (
        "Who could still cheat, and how it would show",
        &[
            (
                "Whoever writes in the server's files",
                "They can take out records that no device and no office holds any more. As soon as one device \
                 has seen the head of the log, it shows on that device as a log that is not what it was.",
            ),
            (
                "Whoever has the ship's key",
                "They can vouch for devices that are nobody's, and run a second server. Two servers show as \
                 soon as one device, or the office, meets both. A device that was vouched for stands in the \
                 log. Keep the key under its passphrase, and its copy ashore.",
            ),
            (
                "Whoever puts an old backup back",
                "The server says so itself in its head, and what it lost is sent again from the devices. It is \
                 shown all the same, because a restore that nobody ordered is also how one would hide \
                 something. Only what no device and no office held is gone.",
            ),
            (
                "Whoever has a lost or stolen phone",
                "Until it is withdrawn they can sign as its owner, if they know the PIN. Withdraw it at once: \
                 records signed after that do not count, and those before stay good.",
            ),
            (
                "All of them together",
                "If the ship's key, every device and the office are in one hand, nothing here can help. Keep a \
                 head on paper, or with somebody who is not aboard: one old head is enough to prove it.",
            ),
        ],
    ),
    (
        "What to do",
        &[
            ("Every day", "Nothing. The devices check by themselves."),
            (
                "At a handover, and after anything serious",
                "Read the head aloud over the radio, or print the log's page, and have it kept by somebody who \
                 was not there. Export the records and keep the file.",
            ),
            (
                "When a page says that the log is not what it was",
                "Clear no phone, stop no server in a hurry, write down both heads. Export the records from the \
                 server and keep the phones: they hold the evidence. The master reads it and writes down why; \
                 the office sees both.",
            ),
            (
                "When a phone is lost",
                "Withdraw its key. Whoever used it enrols again on another one.",
            ),
        ],
    ),
];

/// The page about proof.
#[component]
pub fn ProofPage() -> impl IntoView {
    let pair = |(said, of_it): &(&'static str, &'static str)| {
        view! {
            <dt>{*said}</dt>
            <dd>{*of_it}</dd>
        }
    };
    let part = |(heading, pairs): Part| {
        view! {
            <section class="proof-part">
                <h2>{heading}</h2>
                <dl class="proof-list">{pairs.iter().map(pair).collect_view()}</dl>
            </section>
        }
    };
    view! {
        <Title text=TITLE />
        <div class="office ship">
            <OfficeHead />
            <main class="office-main">
                <div class="office-title">
                    <h1>{TITLE}</h1>
                    <p class="quiet">{INTRO}</p>
                    <p>
                        <A href="/log">{words::log::LOG}</A>
                    </p>
                </div>
                {PARTS.into_iter().map(part).collect_view()}
            </main>
        </div>
    }
}
