//! Messages between bow and bridge.

use serde::{Deserialize, Serialize};

use super::SeenView;
use crate::event::Event;
use crate::ids::{PersonId, StepId, hex_id, hex_id_option};
use crate::run_at::RunAt;

/// One message, and who has read it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
pub struct MessageView {
    /// The event.
    #[serde(with = "hex_id")]
    pub event: [u8; 32],
    /// The step that it is about, when it is about one.
    pub step: Option<StepId>,
    /// Who wrote it.
    pub by: PersonId,
    /// When, ms UTC by the writer's device.
    pub at_ms: i64,
    /// In words.
    pub text: String,
    /// SHA-256 of a photograph.
    #[serde(with = "hex_id_option")]
    pub photo: Option<[u8; 32]>,
    /// SHA-256 of a voice note.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[serde(with = "hex_id_option")]
    pub voice: Option<[u8; 32]>,
    /// Who has read it, the first first.
    pub read: Vec<SeenView>,
}

impl RunAt<'_> {
    /// Lists the messages of the run, oldest first.
    pub fn messages(&self) -> Vec<MessageView> {
        let mut all: Vec<MessageView> = Vec::new();
        for i in self.counted() {
            let stamped = self.run.event(i);
            match &stamped.event {
                Event::Message {
                    step,
                    text,
                    photo,
                    voice,
                } => all.push(MessageView {
                    event: stamped.id,
                    step: step.clone(),
                    by: self.person(i).clone(),
                    at_ms: self.at_ms(i),
                    text: text.clone(),
                    photo: *photo,
                    voice: *voice,
                    read: Vec::new(),
                }),
                Event::Read { event } => {
                    let by = self.person(i);
                    let message = all.iter_mut().find(|message| message.event == *event);
                    // Whoever wrote it has nothing to read, and the first time counts.
                    if let Some(message) = message.filter(|message| {
                        !message.by.is_same(by)
                            && !message.read.iter().any(|read| read.by.is_same(by))
                    }) {
                        message.read.push(SeenView {
                            by: by.clone(),
                            at_ms: self.at_ms(i),
                        });
                    }
                }
                _ => {}
            }
        }
        all
    }
}
