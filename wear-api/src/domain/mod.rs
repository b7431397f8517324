//! What the service speaks of, in types that cannot be wrong. Knows the core and nothing else of ours.

mod alert;
mod announced;
mod audit;
mod authorization;
mod bench;
mod bench_plan;
mod bike;
mod bike_kind;
mod bike_outlook;
mod calendar;
mod care;
mod care_setting;
mod cassettes;
mod changed;
mod checklist;
mod declared_use;
mod digest;
mod field;
mod fitting;
mod group_kilometres;
mod hook;
mod idempotency;
mod ids;
mod invalid;
mod job;
mod learned_condition;
mod link;
mod lubricant;
mod measured;
mod money;
mod need;
mod notice;
mod odometer;
mod once;
mod outlook;
mod page;
mod part;
mod part_model;
mod party;
mod place;
mod plan_reason;
mod policy;
mod reach;
mod reading;
mod reading_bias;
mod record;
mod record_meaning;
mod ride;
mod role;
mod session;
mod start;
mod stock;
mod swap;
mod symptom;
mod text;
mod timestamp;
mod token;
mod told_twice;
mod tool;
mod track_record;
mod usual_year;
mod wear_effects;
mod workshop;

pub use alert::{Alert, AlertChange};
pub use announced::{
    Announced, ChainFinding, Findings, News, Over, Raised, SoonDays, SprocketFinding, Topic, Worn,
};
pub use audit::{AuditEntry, NamedEntry};
pub use authorization::{
    Authorization, AuthorizationCode, CODE_IN_FORCE, CODE_REMEMBERED, CodeChallenge, MOST_REDIRECT_URIS,
    NotThirtyTwoBytes, RedirectUri,
};
pub use bench::{
    BenchDay, BenchDayFacts, BenchSettings, Booking, BookingFacts, BookingFilter, ClosingTime, DateRange,
    Minutes, WeekMinutes,
};
pub use bench_plan::{
    BenchLoad, BenchPin, BenchPlan, ConstraintKind, DueOutlook, FittedPart, MeasureFirst, MovedVisit,
    NotPlanned, PlanResult, PlanState, PlanWindow, PlannedDay, ShortOf, Visit, VisitTask, WaitingPart,
    WaitsFor,
};
pub use bike::{Bike, BikeFacts, BikeFilter, BikePatch, BikeSort, NewBike, OwnersPatch};
pub use bike_kind::{BikeKind, BikeKindFacts, DrivetrainChoice, KindChoice, ModelsOfKind};
pub use bike_outlook::{DateBand, GOES_WITH_CHAIN, Outlook, ReadingError, Taught, by_code, with_chain};
pub use calendar::{CalendarSecret, PlannedSwap};
pub use care::Care;
pub use care_setting::{CareInterval, CareSetting, CareState};
pub use cassettes::{CassettesSaid, LearnedCassettes};
pub use changed::{Changed, ChangedKind, FeedPage, FeedPlace, FeedSize, Since};
pub use checklist::Checklist;
pub use declared_use::{DaysOfUse, DeclaredUse, DistanceAWeek, UseOf};
pub use digest::{
    Digest, DigestDays, DigestDone, DigestDue, DigestFacts, DigestHour, DigestOutcome, DigestPeriod,
    DigestSecret, EmailAddress, Weekday,
};
pub use field::{Field, Form};
pub use fitting::Fitting;
pub use group_kilometres::{GroupKilometres, LEARNED_OVER};
pub use hook::{
    Attempt, AttemptOutcome, DisabledReason, Hook, HookEvent, HookFacts, HookMessage, HookOwner, HookSecret,
    HookSecrets, HookUrl, MessageState, NewAttempt, NewHookMessage,
};
pub use idempotency::{Fingerprint, IdempotentRequest, Reservation, StoredAnswer};
pub use ids::{
    AppId, AuditId, BenchDayId, BenchPlanId, BikeId, BikeKindId, BookingId, CareId, DeclaredUseId,
    DeliveryId, DigestId, FittingId, ForecastId, HookId, JobId, LinkId, LubricantId, MessageId, PartId,
    PartModelId, ReadingId, RideId, RiderId, SessionId, StatementId, SwapId, SymptomId, TokenId, ToolId,
    WorkshopId,
};
pub use invalid::{FieldError, FieldErrors, Invalid};
pub use job::{Backlog, Claim, ClaimedBike, ClaimedJob, Finished, JobKind, NewJob};
pub use learned_condition::{ConditionSaid, LearnedCondition};
pub use link::{LINK_IN_FORCE, Link, LinkCode, LinkedReach, NoCode};
pub use lubricant::{Lubricant, LubricantFacts};
pub use measured::{Entry, Measured};
pub use money::{Currency, Money};
pub use need::{BikeNeeds, NeededPart, SwapNeeds};
pub use notice::NoticeSaid;
pub use odometer::{EnteredWith, EventKind, OdometerStatement, OdometerTotal};
pub use once::Once;
pub use outlook::{FleetEntry, FleetSort, OutlookFilter, OutlookRow, OutlookSummary};
pub use page::{Cursor, Page, PageRequest, PageSize};
pub use part::{NewPart, Part, PartFacts};
pub use part_model::{Geometry, PartModel, PartModelFacts, StandIn};
pub use party::{App, Rider};
pub use place::{Place, Position};
pub use plan_reason::{PlanAssumption, PlanReason};
pub use policy::{
    Assumption, ChainChoice, ChoiceSaid, LubricantChoice, PartsOfGroup, Policy, PolicyPrices, PriceWishes,
};
pub use reach::{Grant, Reach};
pub use reading::{NewReading, Reading, Voiding};
pub use reading_bias::{BiasSaid, BiasToDo, PersonBias, ToolBias};
pub use record::{KeptPassage, Made, RecordTally, RecordedBike, Sums};
pub use record_meaning::Meaning;
pub use ride::{
    BikeDay, BikeDayKey, NewRide, Ride, RideFacts, RideFilter, RideIdScope, RideIdentity, RideLoad,
    RideOutcome, RideSpan, RideWarning,
};
pub use role::Role;
pub use session::{Device, Invited, NewSession, NewSignIn, Session};
pub use start::{BikeStart, FittingStart, KmBefore, StartPatch};
pub use stock::{
    Delivery, DeliveryCount, DeliveryFacts, DeliveryFilter, LeadTimeDays, MOST_SUBSTITUTES, PackSize,
    PartsUnderWay, ServiceLevel, ShelfCount, StockEntry, StockFacts, Taken,
};
pub use swap::{NewSwap, Swap};
pub use symptom::{NewReport, Report};
pub use text::{ExternalId, GroupName, IdempotencyKey, Label, Note, Source, SourceId, WorkshopName};
pub use timestamp::{CLOCK_SKEW, Timestamp};
pub use token::{NewToken, NoRandomness, Token, TokenHash, TokenSecret};
pub use told_twice::{Telling, tellings};
pub use tool::{ChainLevel, ReadWith, Tool};
pub use track_record::{
    ChainRecord, Drift, FleetRate, KeptForecast, Month, MonthlyTally, ReadChain, ScoredReading,
};
pub use usual_year::{GroupYear, MonthNamed, MonthShare, SeasonSaid, UseSeason, UsedBike};
pub use wear_core::drivetrain::{Drivetrain, DrivetrainFacts, Gearing, Teeth};
pub use wear_core::exposure::care::CareKind;
pub use wear_core::exposure::{Surface, Use};
pub use wear_core::forecast::Advice;
pub use wear_core::knock_on::SwapReason;
pub use wear_core::reading::{Instrument, Measurement};
pub use wear_effects::{EffectSaid, LubricantEffect, LubricantUse, ModelEffect, WearEffects, drift_said};
pub use workshop::{
    Calibration, Costs, DefaultLimits, Language, UnitsShown, Workshop, WorkshopSettings, parse_time_zone,
};
