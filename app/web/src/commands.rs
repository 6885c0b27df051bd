//! What a page's commands come to, one match for each concern.

use crate::client::Client;
use crate::records::not_saved_for;
use crate::{anchor, later, light, live, log, tabs};
use journal::Body;
use leptos::prelude::*;
use std::rc::Rc;
use ui::port::{
    Command, Fixing, KeyCommand, LinkCommand, MediaCommand, Picture, PinAttempt, RecordCommand,
    Speaking, SystemCommand, Taking,
};

impl Client {
    /// Does what a page asked for.
    pub async fn execute(self: &Rc<Self>, command: Command, pressed_ms: f64) {
        match command {
            Command::Key(KeyCommand::Lock) => self.lock(),
            Command::Key(KeyCommand::NotNow) => self.not_now(),
            Command::Key(command) => self.begin_key(command).await,
            Command::Record(_) if self.is_withdrawn() => {
                let message = not_saved_for("the ship has withdrawn this phone's key");
                self.device.records.trouble.set(Some(message));
            }
            Command::Record(command) => {
                if !self.must_wait(&command, pressed_ms) {
                    self.begin_record(command, pressed_ms).await;
                }
            }
            Command::Link(LinkCommand::Sync) => self.wake.set(true),
            Command::Link(LinkCommand::Watch) => live::watch(self),
            Command::Link(LinkCommand::AnchorWatch(is_wanted)) => anchor::listen(self, is_wanted),
            Command::Media(command) => self.execute_media(command),
            Command::System(command) => self.execute_system(command).await,
        }
    }

    async fn begin_key(self: &Rc<Self>, command: KeyCommand) {
        match later::key(Rc::clone(self), command).await {
            Ok(work) => work.await,
            Err(not_here) => {
                let failed = PinAttempt::Failed(not_here.to_string());
                self.device.identity.attempt.set(failed);
            }
        }
    }

    async fn begin_record(self: &Rc<Self>, command: RecordCommand, pressed_ms: f64) {
        match later::record(Rc::clone(self), command, pressed_ms).await {
            Ok(work) => work.await,
            Err(not_here) => {
                let message = not_saved_for(&not_here.to_string());
                self.device.records.trouble.set(Some(message));
            }
        }
    }

    /// Does what concerns keys.
    pub async fn execute_key(self: &Rc<Self>, command: KeyCommand) {
        match command {
            KeyCommand::ChoosePin(pin) => self.choose_pin(pin).await,
            KeyCommand::ProvePin(pin) => self.prove_pin(pin).await,
            KeyCommand::Enrol { code, first } => self.enrol(&code, first.as_ref()).await,
            KeyCommand::DropEnrolment => self.drop_enrolment().await,
            KeyCommand::Unlock { device, pin } => {
                if let Some((waited, pressed_ms)) = self.unlock(&device, pin).await {
                    self.begin_record(waited, pressed_ms).await;
                }
            }
            KeyCommand::ChangePin { device, old, new } => {
                self.change_pin(&device, &old, &new).await;
            }
            KeyCommand::LookForPhoneLock => self.look_for_phone_lock().await,
            KeyCommand::SetPhoneLock {
                device,
                pin,
                is_wanted,
            } => self.set_phone_lock(&device, &pin, is_wanted).await,
            KeyCommand::Lock => self.lock(),
            KeyCommand::NotNow => self.not_now(),
        }
    }

    /// Puts on record what a page asked for.
    pub async fn execute_record(&self, command: RecordCommand, pressed_ms: f64) {
        match command {
            RecordCommand::Trial => self.trial().await,
            RecordCommand::Start { slug, choices } => self.start(&slug, choices).await,
            RecordCommand::Say { run, event } => {
                self.say(run, *event, pressed_ms).await;
            }
            RecordCommand::SayAll(all) => self.say_all(all, pressed_ms).await,
            RecordCommand::Plan {
                title,
                input_json,
                order,
                reason,
            } => {
                let plan = journal::body::PlanBody {
                    title,
                    input_json,
                    order,
                    reason,
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
            RecordCommand::Gear { changes, reason } => {
                let body = journal::body::GearBody { changes, reason };
                self.put(None, Body::Gear(body)).await;
            }
            RecordCommand::Watch(body) => {
                self.put(None, Body::Watch(*body)).await;
            }
            RecordCommand::GearKinds { text } => {
                let body = journal::body::GearKindBody { text };
                self.put(None, Body::GearKind(body)).await;
            }
            RecordCommand::LogRead { trouble, reason } => {
                log::read(self, &trouble, &reason).await;
            }
        }
    }

    fn execute_media(self: &Rc<Self>, command: MediaCommand) {
        if matches!(command, MediaCommand::Alert) {
            tabs::alarm();
        } else {
            // None may keep a tick waiting that is asked for meanwhile.
            wasm_bindgen_futures::spawn_local(Rc::clone(self).begin_media(command));
        }
    }

    async fn begin_media(self: Rc<Self>, command: MediaCommand) {
        let device = self.device;
        let not_here = match later::media(self, command.clone()).await {
            Ok(work) => return work.await,
            Err(not_here) => not_here.to_string(),
        };
        match command {
            MediaCommand::Fix => device.media.fix.set(Fixing::Failed(not_here)),
            MediaCommand::TakePhoto { .. } => device.media.taking.set(Taking::Failed(not_here)),
            MediaCommand::Speak(_) => device.media.speaking.set(Speaking::Failed(not_here)),
            MediaCommand::FindPhoto(hash) => device.media.pictures.update(|pictures| {
                pictures.insert(hash, Picture::NotHere);
            }),
            MediaCommand::ReadText { .. } => device.media.text.set(None),
            MediaCommand::Alert => {}
        }
    }

    async fn execute_system(self: &Rc<Self>, command: SystemCommand) {
        match command {
            SystemCommand::ReadRun(run) => {
                // Where the code cannot be had, the page goes on saying that the run is being read.
                if let Ok(work) = later::look_at_run(Rc::clone(self), run).await {
                    wasm_bindgen_futures::spawn_local(work);
                }
            }
            SystemCommand::Look => self.look().await,
            SystemCommand::StayAwake(is_wanted) => tabs::stay_awake(is_wanted),
            SystemCommand::Persist => {
                let persistent = store::ask_to_persist().await;
                self.device
                    .system
                    .keeping
                    .update(|keeping| keeping.persistent = persistent);
                self.look().await;
            }
            SystemCommand::KeepPlan(text) => light::keep_plan(text.as_deref()),
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
