//! Where rows are compared: with the speaker's mean taken off, turned into fewer numbers by a projection that was learnt from
//! many people, and made one long, so that their product is the cosine of the angle between them.
//!
//! The projection keeps what tells one sound of speech from another, and leaves out what differs between two takes of one
//! person and between a quiet room and a noisy one (`models/own-voice/README.md`). Rows of another width than that of the
//! second listener are compared as they are.

use std::sync::LazyLock;

use half::f16;
use half::slice::HalfFloatSliceExt;

use super::frames::Frames;

/// Numbers in a row of the second listener's encoder.
const FROM: usize = 288;
/// Numbers after the projection.
const TO: usize = 64;
/// What a length of one is written as. The product of two rows then fits into 32 bits with room for rounding.
const ONE: f32 = 16_000.0;

/// The projection, a row of [`TO`] halves for each of [`FROM`], least byte first.
static LEARNT: &[u8; FROM * TO * 2] = include_bytes!("projection.f16");

static PROJECTION: LazyLock<Vec<f32>> = LazyLock::new(|| {
    let halves: Vec<f16> = LEARNT.chunks_exact(2).map(|two| f16::from_le_bytes([two[0], two[1]])).collect();
    halves.to_f32_vec()
});

/// The room that one speaker's rows are compared in.
#[derive(Debug, Clone)]
pub struct Space {
    mean: Vec<f32>,
}

/// Rows as they are compared.
#[derive(Debug, Clone, PartialEq)]
pub struct Rows {
    width: usize,
    numbers: Vec<i16>,
}

impl Space {
    /// The space of a speaker with these takes; all of them have one width, and others are left out.
    pub fn of<'a>(width: usize, takes: impl IntoIterator<Item = &'a Frames>) -> Self {
        let mut sum = vec![0f64; width];
        let mut count = 0usize;
        for frames in takes.into_iter().filter(|frames| frames.width() == width) {
            for row in frames.full().chunks_exact(width) {
                sum.iter_mut().zip(row).for_each(|(sum, number)| *sum += f64::from(*number));
                count += 1;
            }
        }
        Self { mean: sum.into_iter().map(|sum| (sum / count.max(1) as f64) as f32).collect() }
    }

    /// Rows as they are compared here; nothing if they are of another width.
    pub fn place(&self, frames: &Frames) -> Option<Rows> {
        let width = self.mean.len();
        if frames.width() != width || width == 0 {
            return None;
        }
        let projected = if width == FROM { TO } else { width };
        let mut numbers = Vec::with_capacity(frames.count() * projected);
        let mut placed = vec![0f32; projected];
        for row in frames.full().chunks_exact(width) {
            let centred = row.iter().zip(&self.mean).map(|(number, mean)| number - mean);
            if width == FROM {
                placed.fill(0.0);
                for (number, weights) in centred.zip(PROJECTION.chunks_exact(TO)) {
                    placed.iter_mut().zip(weights).for_each(|(sum, weight)| *sum += number * weight);
                }
            } else {
                placed.iter_mut().zip(centred).for_each(|(place, number)| *place = number);
            }
            let length = placed.iter().map(|number| number * number).sum::<f32>().sqrt().max(1e-6);
            numbers.extend(placed.iter().map(|number| (number / length * ONE) as i16));
        }
        Some(Rows { width: projected, numbers })
    }
}

impl Rows {
    /// How many there are.
    pub fn count(&self) -> usize {
        self.numbers.len() / self.width
    }

    /// How far each row is from each of the other's, 0 to 2: those of the other for the first row, then for the second.
    pub fn distances(&self, other: &Rows) -> Vec<f32> {
        let mut distances = Vec::with_capacity(self.count() * other.count());
        for row in self.numbers.chunks_exact(self.width) {
            for their in other.numbers.chunks_exact(other.width) {
                let product: i32 = row.iter().zip(their).map(|(a, b)| i32::from(*a) * i32::from(*b)).sum();
                distances.push((1.0 - product as f32 / (ONE * ONE)).max(0.0));
            }
        }
        distances
    }

    /// Bytes of memory.
    pub fn size(&self) -> usize {
        self.numbers.len() * size_of::<i16>()
    }
}
