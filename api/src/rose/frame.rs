//! How large things are: few roses are drawn large, many small, but letters never below 12 px.

/// The width of the page.
pub(super) const WIDTH: f64 = 480.0;
/// What stays free at its edges.
pub(super) const MARGIN: f64 = 12.0;

/// The sizes that go with a number of columns.
#[derive(Debug, PartialEq)]
pub(super) struct Sizes {
    pub(super) columns: usize,
    /// Between columns.
    gap: f64,
    /// How far from the middle the letters N, E, S and W stand.
    letters_at: f64,
    pub(super) letter: f64,
    /// The size of the degrees every 30°; `None` where there is no room.
    pub(super) degrees: Option<f64>,
    pub(super) ring_label: f64,
    pub(super) most_rings: usize,
    /// The height of the band just outside the rim that the mean and the named azimuth have.
    pub(super) mean_band: f64,
    /// Between ticks of the rim, in degrees; every 30° there is a longer one.
    pub(super) ticks_deg: usize,
    /// How thick the line of the mean is.
    pub(super) mean_line: f64,
    pub(super) name: f64,
    pub(super) told: f64,
    /// The dots of single directions.
    pub(super) dots: Option<DotSizes>,
}

/// The sizes of dots.
#[derive(Debug, PartialEq)]
pub(super) struct DotSizes {
    /// Across a dot.
    pub(super) across: f64,
    /// The height of the highest stack.
    pub(super) room: f64,
    /// Of more directions none is drawn.
    pub(super) most: usize,
}

const ONE: Sizes = Sizes {
    columns: 1,
    gap: 0.0,
    letters_at: 198.0,
    letter: 16.0,
    degrees: Some(13.0),
    ring_label: 13.0,
    most_rings: 5,
    mean_band: 14.0,
    ticks_deg: 10,
    mean_line: 3.2,
    name: 15.0,
    told: 14.0,
    dots: Some(DotSizes {
        across: 4.6,
        room: 24.0,
        most: 200,
    }),
};

const TWO: Sizes = Sizes {
    columns: 2,
    gap: 16.0,
    letters_at: 101.0,
    letter: 14.0,
    degrees: None,
    ring_label: 12.0,
    most_rings: 4,
    mean_band: 11.0,
    ticks_deg: 10,
    mean_line: 2.8,
    name: 14.0,
    told: 13.0,
    dots: Some(DotSizes {
        across: 3.4,
        room: 9.0,
        most: 100,
    }),
};

const THREE: Sizes = Sizes {
    columns: 3,
    gap: 12.0,
    letters_at: 65.0,
    letter: 12.0,
    degrees: None,
    ring_label: 12.0,
    most_rings: 4,
    mean_band: 10.0,
    ticks_deg: 30,
    mean_line: 2.3,
    name: 13.0,
    told: 12.0,
    dots: None,
};

impl Sizes {
    /// The sizes for so many roses.
    pub(super) fn of(roses: usize) -> &'static Self {
        match roses {
            0 | 1 => &ONE,
            2..=6 => &TWO,
            _ => &THREE,
        }
    }

    /// The width of a column.
    pub(super) fn width(&self) -> f64 {
        let columns = self.columns as f64;
        (WIDTH - 2.0 * MARGIN - (columns - 1.0) * self.gap) / columns
    }

    /// The middle of a column.
    pub(super) fn middle(&self, column: usize) -> f64 {
        MARGIN + (self.width() + self.gap) * column as f64 + 0.5 * self.width()
    }

    /// From the middle of a rose to where nothing of it is any more, above and below.
    pub(super) fn reach(&self) -> f64 {
        self.letters_from() + self.letter + 3.0
    }

    /// From where on letters stand.
    pub(super) fn letters_from(&self) -> f64 {
        self.letters_at - 0.5 * self.letter
    }

    /// The rim, where dots need a band of some height.
    pub(super) fn rim(&self, dot_band: f64) -> f64 {
        self.letters_from() - 4.0 - dot_band - self.mean_band
    }
}
