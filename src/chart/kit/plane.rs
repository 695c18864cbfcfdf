//! Curves and areas between two scales, drawn by plotters on a [`Canvas`].

use std::convert::Infallible;

use plotters::coord::Shift;
use plotters::coord::cartesian::Cartesian2d;
use plotters::coord::types::RangedCoordf64;
use plotters::drawing::{DrawingArea, IntoDrawingArea};
use plotters::series::{AreaSeries, LineSeries};
use plotters::style::{Color, RGBColor, ShapeStyle};
use plotters_backend::{BackendColor, BackendCoord, BackendStyle, DrawingBackend, DrawingErrorKind};

use super::WIDTH;
use super::canvas::{Canvas, SUB_UNITS, Stroke};
use super::scale::Scale;

/// Two scales that span an area.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Plane {
    /// Across.
    pub x: Scale,
    /// Up: its start is the lower edge.
    pub y: Scale,
}

type Area<'a> = DrawingArea<Pen<'a>, Cartesian2d<RangedCoordf64, RangedCoordf64>>;

impl Plane {
    /// Where a point stands, in pixels.
    pub fn place(&self, (x, y): (f64, f64)) -> (f64, f64) {
        (self.x.px(x), self.y.px(y))
    }

    /// A full line through points.
    pub fn curve(&self, canvas: &mut Canvas, points: &[(f64, f64)], colour: &'static str, width: f64) {
        let style = ShapeStyle { color: rgb(colour).to_rgba(), filled: false, stroke_width: sub_units(width) as u32 };
        let area = self.area_of(canvas);
        for line in LineSeries::new(points.iter().map(|&point| self.fractions(point)), style) {
            drawn(area.draw(&line));
        }
    }

    /// A dashed line through points.
    pub fn dashed(&self, canvas: &mut Canvas, points: &[(f64, f64)], colour: &'static str, width: f64) {
        let places: Vec<(f64, f64)> = points.iter().map(|&point| self.place(point)).collect();
        canvas.path(&places, Stroke::dashed(colour, width));
    }

    /// The area under points, down to the lower edge.
    pub fn fill(&self, canvas: &mut Canvas, points: &[(f64, f64)], colour: &'static str, opacity: f64) {
        let area = self.area_of(canvas);
        for shape in AreaSeries::new(points.iter().map(|&point| self.fractions(point)), 0.0, rgb(colour).mix(opacity)) {
            drawn(area.draw(&shape));
        }
    }

    fn fractions(&self, (x, y): (f64, f64)) -> (f64, f64) {
        (self.x.fraction(x), self.y.fraction(y))
    }

    fn area_of<'a>(&self, canvas: &'a mut Canvas) -> Area<'a> {
        let whole: DrawingArea<Pen<'a>, Shift> = Pen(canvas).into_drawing_area();
        let across = sub_units(self.x.start)..sub_units(self.x.end);
        let up = sub_units(self.y.start)..sub_units(self.y.end);
        whole.apply_coord_spec(Cartesian2d::<RangedCoordf64, RangedCoordf64>::new(0.0..1.0, 0.0..1.0, (across, up)))
    }
}

/// A pen that writes to a string cannot fail.
fn drawn<E>(result: Result<(), E>) {
    debug_assert!(result.is_ok());
}

fn sub_units(pixels: f64) -> i32 {
    (pixels * SUB_UNITS).round() as i32
}

fn rgb(hex: &str) -> RGBColor {
    let byte = |at: usize| hex.get(at..at + 2).and_then(|pair| u8::from_str_radix(pair, 16).ok()).unwrap_or(0);
    RGBColor(byte(1), byte(3), byte(5))
}

/// What plotters draws with: a canvas in sub-units.
struct Pen<'a>(&'a mut Canvas);

type Drawn = Result<(), DrawingErrorKind<Infallible>>;

fn pixels((x, y): BackendCoord) -> (f64, f64) {
    (f64::from(x) / SUB_UNITS, f64::from(y) / SUB_UNITS)
}

/// The colour of the palette nearest to what plotters passes on: itself.
fn hex(colour: BackendColor) -> String {
    let (r, g, b) = colour.rgb;
    format!("#{r:02x}{g:02x}{b:02x}")
}

impl DrawingBackend for Pen<'_> {
    type ErrorType = Infallible;

    fn get_size(&self) -> (u32, u32) {
        // The sheet grows downwards as it is drawn on.
        (sub_units(WIDTH) as u32, u32::MAX / 4)
    }

    fn ensure_prepared(&mut self) -> Drawn {
        Ok(())
    }

    fn present(&mut self) -> Drawn {
        Ok(())
    }

    fn draw_pixel(&mut self, point: BackendCoord, colour: BackendColor) -> Drawn {
        let (x, y) = pixels(point);
        self.0.rect(x, y, 1.0 / SUB_UNITS, 1.0 / SUB_UNITS, &hex(colour), colour.alpha);
        Ok(())
    }

    fn draw_path<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(&mut self, path: I, style: &S) -> Drawn {
        let points: Vec<(f64, f64)> = path.into_iter().map(pixels).collect();
        self.0.curve(&points, &hex(style.color()), f64::from(style.stroke_width()) / SUB_UNITS);
        Ok(())
    }

    fn draw_line<S: BackendStyle>(&mut self, from: BackendCoord, to: BackendCoord, style: &S) -> Drawn {
        self.draw_path([from, to], style)
    }

    fn fill_polygon<S: BackendStyle, I: IntoIterator<Item = BackendCoord>>(&mut self, path: I, style: &S) -> Drawn {
        let points: Vec<(f64, f64)> = path.into_iter().map(pixels).collect();
        let colour = style.color();
        self.0.polygon(&points, &hex(colour), colour.alpha);
        Ok(())
    }
}
