//! The columns that a field sheet can have.

macro_rules! columns {
    ($($(#[$doc:meta])* $variant:ident = $name:literal),+ $(,)?) => {
        /// A column that the record knows; every other column is kept as it came.
        #[derive(Debug, Clone, Copy, PartialEq, Eq)]
        pub(crate) enum Column { $($(#[$doc])* $variant),+ }

        impl Column {
            /// Every column, the required ones first; a column's place here is its number.
            pub(crate) const ALL: &'static [Self] = &[$(Self::$variant),+];

            /// The name in a header row, and of the property.
            pub(crate) const fn name(self) -> &'static str {
                match self { $(Self::$variant => $name),+ }
            }
        }
    };
}

columns! {
    Surface = "surface",
    Print = "print",
    Easting = "easting_m",
    Northing = "northing_m",
    Length = "length_m",
    LocalX = "local_x_m",
    LocalY = "local_y_m",
    Elevation = "elevation_m",
    PositionSd = "position_sd_m",
    Width = "width_m",
    Depth = "depth_m",
    Azimuth = "azimuth_deg",
    AzimuthSd = "azimuth_sd_deg",
    Side = "side",
    Limb = "limb",
    Morphotype = "morphotype",
    Digits = "digits",
    Preservation = "preservation",
    Record = "record",
    Trackway = "trackway",
    Order = "order",
    ObservedOn = "observed_on",
    Observer = "observer",
    Overlies = "overlies",
    DepthSamples = "depth_samples",
    Note = "note",
}

impl Column {
    /// How many columns there are.
    pub(crate) const COUNT: usize = Self::ALL.len();

    /// The columns without which a sheet in the site's CRS cannot be taken, and that every export has.
    pub(crate) const REQUIRED: &'static [Self] = &[
        Self::Surface,
        Self::Print,
        Self::Easting,
        Self::Northing,
        Self::Length,
    ];

    /// The column of exactly this name.
    pub(crate) fn named(name: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|column| column.name() == name)
    }

    /// Whether a name looks like a slip of the pen for this column: other letter case, another
    /// ending for the unit or none, or up to two wrong letters.
    pub(super) fn is_meant_by(self, name: &str) -> bool {
        if self
            .axis()
            .is_some_and(|axis| !name.to_lowercase().contains(axis))
        {
            return false;
        }
        const SLIPS: usize = 2;
        // Nobody meant `point` to be `print`, or `x` to be anything: short names must differ less.
        const LONG_ENOUGH: usize = 6;
        let name = folded(name);
        let full = folded(self.name());
        let bare = folded(self.name().trim_end_matches("_m").trim_end_matches("_deg"));
        if name.is_empty() || name == full || name == bare {
            return !name.is_empty();
        }
        [full, bare].iter().any(|own| {
            let slips = if own.len() < LONG_ENOUGH { 1 } else { SLIPS };
            strsim::osa_distance(&name, own) <= slips
        })
    }

    /// The letter in its name that tells it from its twin.
    fn axis(self) -> Option<char> {
        match self {
            Self::LocalX => Some('x'),
            Self::LocalY => Some('y'),
            _ => None,
        }
    }
}

/// The two columns that say where a print lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Pair {
    /// In the site's CRS.
    Projected,
    /// In the site's local grid.
    Local,
}

impl Pair {
    /// Both pairs.
    pub(super) const ALL: [Self; 2] = [Self::Projected, Self::Local];
    /// What is expected where both pairs are given.
    pub(super) const ONE: &'static str = "one pair of values for a place: easting_m and northing_m in the site's CRS, or local_x_m and local_y_m in its local grid; remove the other pair";

    /// Its columns, east or x first.
    pub(super) const fn columns(self) -> [Column; 2] {
        match self {
            Self::Projected => [Column::Easting, Column::Northing],
            Self::Local => [Column::LocalX, Column::LocalY],
        }
    }

    /// The names of its columns.
    pub(super) fn names(self) -> String {
        self.columns().map(Column::name).join(", ")
    }

    /// The names of the columns of both pairs.
    pub(super) fn all_names() -> String {
        Self::ALL.map(Self::names).join(", ")
    }
}

fn folded(name: &str) -> String {
    name.chars()
        .take(40)
        .filter(|letter| letter.is_alphanumeric())
        .flat_map(char::to_lowercase)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn slips_of_the_pen_are_seen() {
        for slip in ["Length_m", "length", "LENGTH (M)", "lenght_m", "length_cm"] {
            assert!(Column::Length.is_meant_by(slip), "{slip}");
        }
        assert!(Column::Easting.is_meant_by("eastings_m"));
        assert!(Column::Print.is_meant_by("Prints"));
        assert!(Column::Azimuth.is_meant_by("azimuth"));
        for other in ["", "x", "note", "weather", "width_m"] {
            assert!(!Column::Length.is_meant_by(other), "{other}");
        }
        assert!(!Column::Easting.is_meant_by("northing_m"));
        for (slip, column, twin) in [
            ("local_x", Column::LocalX, Column::LocalY),
            ("Local Y (m)", Column::LocalY, Column::LocalX),
            ("locl_y_m", Column::LocalY, Column::LocalX),
        ] {
            assert!(column.is_meant_by(slip) && !twin.is_meant_by(slip), "{slip}");
        }
        for other in ["x", "x_m", "locality", "local"] {
            assert!(!Column::LocalX.is_meant_by(other), "{other}");
        }
    }

    #[test]
    fn the_required_columns_come_first() {
        assert_eq!(&Column::ALL[..5], Column::REQUIRED);
        assert_eq!(Column::ALL[Column::Note as usize], Column::Note);
        assert_eq!(Column::named("note"), Some(Column::Note));
        assert_eq!(Column::named("Note"), None);
    }
}
