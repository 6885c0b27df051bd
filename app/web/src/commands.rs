//! What a page's commands come to, one match for each concern.

use crate::client::Client;
use crate::{geolocation, light, live, log, photo, tabs};
use journal::Body;
use leptos::prelude::*;
use std::rc::Rc;
use ui::port::{Command, KeyCommand, LinkCommand, MediaCommand, RecordCommand, SystemCommand};

impl Client {
    /// Does what a page asked for.
    pub async fn execute(self: &Rc<Self>, command: Command, pressed_ms: f64) {
        match command {
            Command::Key(command) => self.execute_key(command).await,
            Command::Record(command) => {
                if !self.must_wait(&command, pressed_ms) {
                    self.execute_record(command, pressed_ms).await;
                }
            }
            Command::Link(LinkCommand::Sync) => self.wake.set(true),
            Command::Link(LinkCommand::Watch) => live::watch(self),
            Command::Media(command) => self.execute_media(command),
            Command::System(command) => self.execute_system(command).await,
        }
    }

    async fn execute_key(&self, command: KeyCommand) {
        match command {
            KeyCommand::ChoosePin(pin) => self.choose_pin(pin).await,
            KeyCommand::ProvePin(pin) => self.prove_pin(pin).await,
            KeyCommand::Enrol { code, first } => self.enrol(&code, first.as_ref()).await,
            KeyCommand::DropEnrolment => self.drop_enrolment().await,
            KeyCommand::Unlock { device, pin } => {
                if let Some((waited, pressed_ms)) = self.unlock(&device, pin).await {
                    self.execute_record(waited, pressed_ms).await;
                }
            }
            KeyCommand::Lock => self.lock(),
            KeyCommand::NotNow => self.not_now(),
        }
    }

    async fn execute_record(&self, command: RecordCommand, pressed_ms: f64) {
        match command {
            RecordCommand::Trial => self.trial().await,
            RecordCommand::Start { slug, choices } => self.start(&slug, choices).await,
            RecordCommand::Say { run, event } => {
                self.say(run, *event, pressed_ms).await;
            }
            RecordCommand::Plan {
                title,
                input_json,
                order,
            } => {
                let plan = journal::body::PlanBody {
                    title,
                    input_json,
                    order,
                };
                self.put(None, Body::Plan(plan)).await;
            }
            RecordCommand::Publish { file, text } => {
                let body = journal::body::ProcedureBody {
                    file,
                    text,
                    published: true,
                };
                self.put(None, Body::Procedure(body)).await;
            }
            RecordCommand::Settings { json } => {
                self.put(None, Body::Settings(journal::SettingsBody { json }))
                    .await;
            }
            RecordCommand::LogRead { trouble, reason } => {
                log::read(self, &trouble, &reason).await;
            }
        }
    }

    fn execute_media(self: &Rc<Self>, command: MediaCommand) {
        let client = Rc::clone(self);
        match command {
            MediaCommand::Fix => geolocation::ask(self.device),
            // Neither may keep a tick waiting that is asked for meanwhile.
            MediaCommand::TakePhoto { input } => {
                wasm_bindgen_futures::spawn_local(
                    async move { photo::take(&client, &input).await },
                );
            }
            MediaCommand::FindPhoto(hash) => {
                wasm_bindgen_futures::spawn_local(async move { photo::find(&client, hash).await });
            }
            MediaCommand::Alert => tabs::alarm(),
        }
    }

    async fn execute_system(&self, command: SystemCommand) {
        match command {
            SystemCommand::Look => self.look().await,
            SystemCommand::Persist => {
                let persistent = store::ask_to_persist().await;
                self.device
                    .system
                    .keeping
                    .update(|keeping| keeping.persistent = persistent);
                self.look().await;
            }
            SystemCommand::TakeUpdate => tabs::take_over(),
            SystemCommand::Understood => self.device.records.trouble.set(None),
            SystemCommand::Light(choice) => {
                light::choose(choice);
                self.device.system.light.set(choice);
            }
        }
    }

    /// Starts a run: pins the procedure's text on record first, if no record carries it yet.
    async fn start(&self, slug: &str, choices: Vec<(String, String)>) {
        let found = self.device.records.ledger.with_untracked(|ledger| {
            let ledger = ledger.as_ref()?;
            let procedure = ledger.current(slug)?;
            let hash = procedure.hash();
            let text = (!ledger.has_text_of(hash))
                .then(|| ledger.text_of(slug))
                .flatten();
            Some((hash, text))
        });
        let Some((hash, text)) = found else {
            self.device.records.trouble.set(Some(format!(
                "there is no procedure {slug:?} on this device"
            )));
            return;
        };
        if let Some(body) = text
            && self.put(None, Body::Procedure(body)).await.is_none()
        {
            return;
        }
        let event = procedure::Event::Start {
            procedure: hash,
            slug: slug.to_owned(),
            choices,
            remark: String::new(),
        };
        if let Some(run) = self.put(None, Body::Run(Box::new(event))).await {
            self.device.records.started.set(Some(run));
        }
    }
}
