//! Which one it is: the indices with which one part of a procedure refers to another.
//!
//! Built only by the loader, so whoever holds a `Procedure` may index with those in it.

macro_rules! index {
    ($(#[$doc:meta] $name:ident;)*) => {$(
        #[$doc]
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, serde::Serialize, serde::Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub usize);
    )*};
}
index! {
    /// Which fastener group, an index into `Procedure::fasteners`.
    FastenerIx;
    /// Which support, an index into `Procedure::supports`.
    SupportIx;
    /// Which component, an index into `Procedure::components`.
    ComponentIx;
    /// Which plug, clip, hose or line, an index into `Procedure::connections`.
    ConnectionIx;
    /// Which state of the vehicle, an index into `Procedure::conditions`.
    ConditionIx;
    /// Which tool, an index into `Procedure::tools`.
    ToolIx;
    /// Which part, an index into `Procedure::parts`.
    PartIx;
    /// Which named measurement, an index into `Procedure::named`.
    MeasureIx;
    /// Which variant of the vehicle, an index into `Procedure::variants`.
    VariantIx;
    /// Which sizes at hand, an index into `Procedure::stocks`.
    StockIx;
}
