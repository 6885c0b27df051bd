//! The crew: people taken on and changed, codes handed out, keys withdrawn. For the master, and ashore for
//! the administrator.

use super::error::ApiError;
use super::routes::{Call, Reply};
use crate::clock::now_ms;
use crate::enrol::{EnrolError, credential_of};
use crate::fleet::FleetError;
use crate::router::App;
use journal::address::Json;
use journal::auth_messages::Code;
use journal::body::RolesFromBody;
use journal::crew::{
    self, CodeQuestion, Doubt, DoubtQuestion, PersonDraft, ShipDraft, WithdrawAnswer,
    WithdrawQuestion,
};
use journal::{Body, Ledger, Person, VesselBody, roles_from_words};
use record::VesselId;

async fn particulars(app: &App, own_vessel: VesselId) -> Result<VesselBody, ApiError> {
    let body = app
        .fleet
        .with(own_vessel, |ledger| ledger.particulars().cloned());
    Ok(body.await?.ok_or(EnrolError::Nameless)?)
}

/// Takes somebody on, or changes their entry; the devices of one who is changed get a credential anew.
///
/// # Errors
/// [`ApiError`] if the caller may not, or the entry is not in order.
pub async fn person(app: App, call: Call<0, PersonDraft>) -> Result<Reply<Json<Person>>, ApiError> {
    let draft = call.body;
    let _turn = app.fleet.muster().await;
    let before = particulars(&app, call.vessel).await?;
    let own = call.vessel;
    let changed = app
        .fleet
        .with(own, |ledger| crew::with_person(ledger, &before, &draft))
        .await?;
    let (after, person) = changed.map_err(EnrolError::from)?;
    let now = now_ms();
    app.fleet.author(None, Body::Vessel(after), now).await?;
    if draft.id.is_some() {
        renew(&app, &person, now).await?;
    }
    Reply::json(&person)
}

/// Gives each key of a person, that still speaks, a credential with what their entry says now.
async fn renew(app: &App, person: &Person, now: i64) -> Result<(), ApiError> {
    let own = app.fleet.own_vessel().ok_or(FleetError::NoShip)?;
    let keys = app.fleet.with(own, |ledger| {
        let theirs = ledger.holders().values().filter(|holder| {
            holder.credential.person.as_str() == person.id
                && ledger.withdrawal(holder.key.device()).is_none()
        });
        theirs
            .map(|holder| {
                let had = roles_from_words(&holder.credential.roles);
                (holder.key, holder.credential.protection, had)
            })
            .collect::<Vec<_>>()
    });
    let has = roles_from_words(&person.roles);
    for (key, protection, had) in keys.await? {
        let credential = match credential_of(&app.fleet, person, key, protection.as_str(), now) {
            Ok(credential) => credential,
            // One who has left keeps what they had, until the day that they left.
            Err(EnrolError::HasLeft(_)) => continue,
            Err(error) => return Err(error.into()),
        };
        // Whoever loses a role may set their clock back, and still have the key.
        let from = |ledger: &Ledger, credential| {
            let device = key.device();
            let change = RolesFromBody {
                device,
                last_seq: ledger.height_of(device),
                credential,
            };
            (had != has).then_some(Body::RolesFrom(change))
        };
        app.fleet
            .author_with(None, Body::Credential(credential), from, now)
            .await?;
    }
    Ok(())
}

/// Hands out a code for one person.
///
/// # Errors
/// [`ApiError`] if the caller may not, or nobody is called so.
pub async fn code(app: App, call: Call<0, CodeQuestion>) -> Result<Reply<Json<Code>>, ApiError> {
    let question = call.body;
    let crew = particulars(&app, call.vessel).await?.crew;
    if !crew.iter().any(|member| member.id == question.person) {
        return Err(EnrolError::NobodyCalled(question.person).into());
    }
    let code = app.enroller.codes().make(&question.person, now_ms());
    let code = code.map_err(EnrolError::from)?;
    tracing::info!(person = %code.person, by = %call.caller.device, "code handed out");
    Reply::json(&code)
}

/// Shows what would be in doubt of a key that is withdrawn.
///
/// # Errors
/// [`ApiError`] if the caller may not, there is no such key, it is withdrawn already, or the time is to come.
pub async fn doubt(app: App, call: Call<0, DoubtQuestion>) -> Result<Reply<Json<Doubt>>, ApiError> {
    let DoubtQuestion { device, from_ms } = call.body;
    let wanted = |ledger: &Ledger| crew::wanted_for_doubt(ledger, &call.body, now_ms());
    let doubt = |ledger: &Ledger| crew::doubt(ledger, device, from_ms, now_ms());
    let doubt = app.fleet.with_runs(call.vessel, wanted, doubt);
    let doubt = doubt.await?.map_err(EnrolError::from)?;
    Reply::json(&doubt)
}

/// Withdraws a key.
///
/// # Errors
/// [`ApiError`] if the caller may not, there is no such key, it is withdrawn already, or the time is to come.
pub async fn withdraw(
    app: App,
    call: Call<0, WithdrawQuestion>,
) -> Result<Reply<Json<WithdrawAnswer>>, ApiError> {
    let question = call.body;
    let _turn = app.fleet.muster().await;
    particulars(&app, call.vessel).await?;
    let own = call.vessel;
    let now = now_ms();
    let withdrawal = app
        .fleet
        .with(own, |ledger| crew::withdrawal(ledger, &question, now))
        .await?
        .map_err(EnrolError::from)?;
    let (last, from_ms) = (withdrawal.last_seq, withdrawal.from_ms);
    app.fleet
        .author(None, Body::Withdrawal(withdrawal), now)
        .await?;
    tracing::info!(device = %question.device, by = %call.caller.device, last, "device withdrawn");
    Reply::json(&WithdrawAnswer {
        from_ms,
        last_seq: last,
    })
}

/// Changes the ship's particulars.
///
/// # Errors
/// [`ApiError`] if the caller may not, or something is missing or out of range.
pub async fn ship(app: App, call: Call<0, ShipDraft>) -> Result<Reply<Json<VesselBody>>, ApiError> {
    let draft = call.body;
    let _turn = app.fleet.muster().await;
    let mut after = particulars(&app, call.vessel).await?;
    let name = draft.name.trim();
    if name.is_empty() || name.len() > 128 || draft.particulars.len() > 128 {
        return Err(ApiError::bad(
            "the name is missing, or the name or particulars have more than 128 bytes",
        ));
    }
    after.latitude_e7 = degrees_e7("latitude", draft.latitude, 90.0)?;
    after.longitude_e7 = degrees_e7("longitude", draft.longitude, 180.0)?;
    name.clone_into(&mut after.name);
    draft.particulars.trim().clone_into(&mut after.particulars);
    app.fleet
        .author(None, Body::Vessel(after.clone()), now_ms())
        .await?;
    Reply::json(&after)
}

fn degrees_e7(what: &str, degrees: f64, most: f64) -> Result<i32, ApiError> {
    if degrees.is_nan() || degrees.abs() > most {
        return Err(ApiError::bad(format!(
            "the {what} is {degrees}: it lies between -{most} and {most}"
        )));
    }
    #[expect(
        clippy::cast_possible_truncation,
        reason = "at most 180e7, which an i32 holds"
    )]
    Ok((degrees * 1e7).round() as i32)
}
