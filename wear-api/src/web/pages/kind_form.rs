//! The form of a kind of bike: what stands in it, and what was typed.

use wear_core::drivetrain::Gearing;
use wear_core::units::{Limit, Teeth};

use super::frame::{Fields, Frame};
use super::new_bike;
use super::work::ACCEPT;
use crate::domain::{
    BikeKind, BikeKindFacts, DrivetrainChoice, DrivetrainFacts, Field as What, FieldErrors, Form, GroupName,
    Invalid, Label, ModelsOfKind, PartModel, PartModelId, Place, Use,
};
use crate::service::Mismatch;
use crate::service::bike_kinds::{EnterKind, KindPatch};
use crate::words::parse_number;

/// What the form shows.
pub(super) struct KindForm {
    pub name: String,
    pub uses: Vec<Choice>,
    pub speeds: String,
    pub rings: String,
    pub cogs: String,
    pub links: String,
    pub gearings: Vec<Choice>,
    pub limit: String,
    pub group: String,
    pub models: Vec<ModelField>,
    /// Whether the form asks if parts that don't go together are meant so.
    pub mismatch: bool,
}

/// A value to choose.
pub(super) struct Choice {
    pub value: String,
    pub text: String,
    pub chosen: bool,
}

/// The field of a part model.
pub(super) struct ModelField {
    pub name: &'static str,
    pub text: String,
    pub choices: Vec<Choice>,
}

impl KindForm {
    /// Of a kind, or of a new one; what was typed goes before what is stored.
    pub fn of(f: &Frame, kind: Option<&BikeKind>, typed: Option<&Fields>, models: &[PartModel]) -> Self {
        let value = |name: &str| match typed {
            Some(fields) => fields.get(name).to_owned(),
            None => stored(f, kind, name),
        };
        let choice = |name: &str, it: &str, text: String| Choice {
            value: it.to_owned(),
            text,
            chosen: value(name) == it,
        };
        let model_field = |name: &'static str, text: String, places: &[Place]| ModelField {
            name,
            text,
            choices: models
                .iter()
                .filter(|model| places.contains(&model.facts.geometry.place()))
                .map(|model| choice(name, &model.id.to_string(), model.facts.name.to_string()))
                .collect(),
        };
        let fields = [
            model_field("chain", f.place(Place::Chain), &[Place::Chain]),
            model_field("cassette", f.kinds_cassette(), &[Place::Cassette, Place::Cog]),
            model_field("ring", f.place(Place::Ring), &[Place::Ring]),
        ];
        Self {
            name: value("name"),
            uses: Use::ALL.iter().map(|&it| choice("use", it.as_str(), f.usage(it))).collect(),
            speeds: value("speeds"),
            rings: value("rings"),
            cogs: value("cogs"),
            links: value("links"),
            gearings: Gearing::ALL.iter().map(|&it| choice("gearing", it.as_str(), f.gearing(it))).collect(),
            limit: value("limit"),
            group: value("group"),
            models: fields.into_iter().filter(|field| !field.choices.is_empty()).collect(),
            mismatch: typed.is_some_and(|fields| fields.filled(ACCEPT).is_some()),
        }
    }
}

/// Numbers of teeth with spaces between them, as they are typed.
pub(super) fn teeth(all: &[Teeth]) -> String {
    all.iter().map(|teeth| teeth.get().to_string()).collect::<Vec<_>>().join(" ")
}

/// What stands in a field as long as nobody types.
fn stored(f: &Frame, kind: Option<&BikeKind>, name: &str) -> String {
    let Some(BikeKind { facts, .. }) = kind else {
        return if name == "use" { Use::Town.as_str().to_owned() } else { String::new() };
    };
    let BikeKindFacts { name: own, usage, drivetrain, is_assumed, limit, group, models } = facts;
    let id = |id: Option<PartModelId>| id.map(|id| id.to_string()).unwrap_or_default();
    // An assumed drivetrain is shown as its number of cogs, a known one as its teeth.
    match (name, is_assumed) {
        ("name", _) => own.to_string(),
        ("use", _) => usage.as_str().to_owned(),
        ("speeds", true) => drivetrain.cogs().len().to_string(),
        ("rings", false) => teeth(drivetrain.rings()),
        ("cogs", false) => teeth(drivetrain.cogs()),
        ("links", false) => drivetrain.links().get().to_string(),
        ("gearing", false) => drivetrain.gearing().as_str().to_owned(),
        ("limit", _) => limit.map(|limit| f.typed(limit.get(), 2)).unwrap_or_default(),
        ("group", _) => group.as_ref().map(ToString::to_string).unwrap_or_default(),
        ("chain", _) => id(models.chain),
        ("cassette", _) => id(models.cassette),
        ("ring", _) => id(models.ring),
        _ => String::new(),
    }
}

/// Whether bikes follow, as it was chosen.
pub(super) fn follow(fields: &Fields) -> Option<bool> {
    match fields.get("follow") {
        "yes" => Some(true),
        "no" => Some(false),
        _ => None,
    }
}

/// The drivetrain as it was typed; what the form doesn't ask for stays as `kind` has it.
fn drivetrain(
    fields: &Fields,
    kind: Option<&BikeKind>,
    errors: &mut FieldErrors,
) -> Option<DrivetrainChoice> {
    if ["rings", "cogs", "links"].iter().any(|name| fields.filled(name).is_some()) {
        let known = kind.filter(|kind| !kind.facts.is_assumed).map(|kind| &kind.facts.drivetrain);
        let gearing: Option<Gearing> = fields.filled("gearing").and_then(|word| word.parse().ok());
        // Whether there are jockey wheels follows from the gearing.
        let same_gearing = known.filter(|known| gearing.is_none_or(|gearing| gearing == known.gearing()));
        let facts = DrivetrainFacts {
            rings: new_bike::numbers(fields.get("rings")),
            cogs: new_bike::numbers(fields.get("cogs")),
            links: fields.get("links").parse().unwrap_or_default(),
            gearing,
            wheel_circumference_mm: known.map(|known| known.wheel().get().round() as u32),
            jockey_teeth: same_gearing.and_then(|known| known.jockey()).map(|teeth| u32::from(teeth.get())),
            light_metal_cogs: known.is_some_and(|known| known.has_light_metal_cogs()),
        };
        return match wear_core::drivetrain::Drivetrain::new(&facts) {
            Ok(drivetrain) => Some(DrivetrainChoice::Whole(drivetrain)),
            Err(error) => {
                errors.push(error.into());
                None
            }
        };
    }
    let Some(typed) = fields.filled("speeds") else { return Some(DrivetrainChoice::Usual(None)) };
    let wrong = || Invalid::unparsed(What::Number, typed, Form::WholeNumber);
    let speeds = errors.keep("/drivetrain/speeds", typed.parse().map_err(|_| wrong()))?;
    Some(DrivetrainChoice::Usual(Some(speeds)))
}

/// The limit that was typed; none where the field is empty.
pub(super) fn limit(fields: &Fields, errors: &mut FieldErrors) -> Option<Limit> {
    let typed = fields.filled("limit")?;
    let Some(percent) = parse_number(typed) else {
        errors.push(Invalid::unparsed(What::Number, typed, Form::Number).at("/limit_percent"));
        return None;
    };
    errors.keep("/limit_percent", Limit::new(percent))
}

fn group(fields: &Fields, errors: &mut FieldErrors) -> Option<GroupName> {
    fields.filled("group").and_then(|group| errors.keep("/group", GroupName::new(group)))
}

fn model(fields: &Fields, name: &str, errors: &mut FieldErrors) -> Option<PartModelId> {
    fields.filled(name).and_then(|id| errors.keep(format!("/{name}_model_id"), id.parse()))
}

/// A new kind.
///
/// # Errors
/// What isn't accepted.
pub(super) fn entered(fields: &Fields) -> Result<EnterKind, FieldErrors> {
    let mut errors = FieldErrors::new();
    let name = errors.keep("/name", Label::new(fields.get("name")));
    let usage = errors.keep("/use", fields.get("use").parse::<Use>());
    let drivetrain = drivetrain(fields, None, &mut errors);
    let limit = limit(fields, &mut errors);
    let group = group(fields, &mut errors);
    let models = ModelsOfKind {
        chain: model(fields, "chain", &mut errors),
        cassette: model(fields, "cassette", &mut errors),
        ring: model(fields, "ring", &mut errors),
    };
    match (name, usage, drivetrain) {
        (Some(name), Some(usage), Some(drivetrain)) if errors.is_empty() => {
            let mismatch = Mismatch::of(Some(fields.filled(ACCEPT).is_some()));
            Ok(EnterKind { name, usage, drivetrain, limit, group, models, mismatch })
        }
        _ => Err(errors),
    }
}

/// What was changed of a kind. What still stands there as it was shown isn't sent on, so that no rounding changes it.
///
/// # Errors
/// What isn't accepted.
pub(super) fn changed(f: &Frame, kind: &BikeKind, fields: &Fields) -> Result<KindPatch, FieldErrors> {
    let mut errors = FieldErrors::new();
    let is_new = |name: &str| fields.get(name) != stored(f, Some(kind), name);
    let mut patch = KindPatch {
        apply_to_bikes: follow(fields),
        mismatch: Mismatch::of(Some(fields.filled(ACCEPT).is_some())),
        ..KindPatch::default()
    };
    if is_new("name") {
        patch.name = errors.keep("/name", Label::new(fields.get("name")));
    }
    if is_new("use") {
        patch.usage = errors.keep("/use", fields.get("use").parse());
    }
    let other_teeth = ["speeds", "rings", "cogs", "links", "gearing"].into_iter().any(is_new);
    // The usual drivetrain is that of the use.
    if other_teeth || (kind.facts.is_assumed && is_new("use")) {
        patch.drivetrain = drivetrain(fields, Some(kind), &mut errors);
    }
    if is_new("limit") {
        patch.limit = Some(limit(fields, &mut errors));
    }
    if is_new("group") {
        patch.group = Some(group(fields, &mut errors));
    }
    if is_new("chain") {
        patch.chain = Some(model(fields, "chain", &mut errors));
    }
    if is_new("cassette") {
        patch.cassette = Some(model(fields, "cassette", &mut errors));
    }
    if is_new("ring") {
        patch.ring = Some(model(fields, "ring", &mut errors));
    }
    if errors.is_empty() { Ok(patch) } else { Err(errors) }
}
