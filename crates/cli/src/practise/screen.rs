//! A session on the whole terminal: curves, numbers, the last things seen, and a
//! line to type on. The clock runs by itself.

use std::collections::VecDeque;
use std::io;
use std::time::{Duration, Instant};

use ratatui::crossterm::event::{self, Event, KeyCode, KeyEventKind, KeyModifiers};
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::style::{Color, Modifier, Style};
use ratatui::symbols::Marker;
use ratatui::text::{Line, Span};
use ratatui::widgets::{Axis, Block, Chart, Dataset, GraphType, Paragraph, Wrap};
use ratatui::{DefaultTerminal, Frame};
use tidewright_training::{Passing, Session, view};

use super::{Wish, ending, heed, opening, short_help};
use crate::problem::Problem;

/// Time that the curves show, s.
const WINDOW_S: f64 = 12.0;
/// Points of a curve in each second.
const POINTS_PER_S: f64 = 25.0;
/// Blue, vermillion and green that stay apart for most eyes; a label stands
/// beside each curve, so that none is known by colour alone.
const COLOURS: [Color; 3] =
    [Color::Rgb(86, 180, 233), Color::Rgb(230, 159, 0), Color::Rgb(0, 158, 115)];
/// The same for the capnogram: reddish purple.
const CAPNOGRAM: Color = Color::Rgb(204, 121, 167);

/// Rows by which Page Up turns the told text back.
const ROWS_BACK: usize = 4;

struct Desk<'a> {
    session: &'a mut Session,
    /// For each curve: (time, value).
    curves: Vec<VecDeque<(f64, f64)>>,
    /// (time, shown carbon dioxide), where there is a capnogram.
    capnogram: VecDeque<(f64, f64)>,
    typed: String,
    told: Vec<String>,
    /// Rows that the told text is turned back, to read what has moved out of view.
    back: usize,
    started: bool,
    running: bool,
    speed: f64,
}

/// Runs the session to its end.
pub fn on_screen(session: &mut Session, speed: f64) -> Result<(), Problem> {
    let shown = view::curves(session.training().monitor).len();
    let told = vec![short_help(session.training())];
    let mut desk = Desk {
        session,
        curves: vec![VecDeque::new(); shown],
        capnogram: VecDeque::new(),
        typed: String::new(),
        told,
        back: 0,
        started: false,
        running: false,
        speed,
    };
    let mut terminal = ratatui::try_init().map_err(terminal_fails)?;
    let outcome = desk.run(&mut terminal);
    ratatui::restore();
    outcome
}

fn terminal_fails(error: io::Error) -> Problem {
    Problem::Write {
        what: format!("the terminal cannot be drawn on: {error}"),
        mend: Some("add `--plain` for a session in lines".to_owned()),
    }
}

impl Desk<'_> {
    fn run(&mut self, terminal: &mut DefaultTerminal) -> Result<(), Problem> {
        let mut last = Instant::now();
        loop {
            terminal.draw(|frame| self.draw(frame)).map_err(terminal_fails)?;
            if event::poll(Duration::from_millis(40)).map_err(terminal_fails)?
                && let Event::Key(key) = event::read().map_err(terminal_fails)?
                && key.kind == KeyEventKind::Press
            {
                let stop = key.modifiers.contains(KeyModifiers::CONTROL);
                match key.code {
                    KeyCode::Char('c' | 'd') if stop => return Ok(()),
                    KeyCode::Char(c) => self.typed.push(c),
                    KeyCode::Backspace => {
                        self.typed.pop();
                    }
                    KeyCode::Esc => self.typed.clear(),
                    KeyCode::PageUp => self.back += ROWS_BACK,
                    KeyCode::PageDown => self.back = self.back.saturating_sub(ROWS_BACK),
                    KeyCode::Enter if self.entered() => return Ok(()),
                    _ => {}
                }
            }
            // A computer that slept must not skip a part of the lesson.
            let passed_s = last.elapsed().as_secs_f64().min(0.25);
            last = Instant::now();
            if self.running {
                self.advance(self.session.now_s() + passed_s * self.speed)?;
            }
        }
    }

    /// Carries out the typed line; whether the session is to be left.
    fn entered(&mut self) -> bool {
        let line = std::mem::take(&mut self.typed);
        self.back = 0;
        if !self.started {
            (self.started, self.running) = (true, true);
            return false;
        }
        if self.session.ended().is_some() {
            return true;
        }
        let at_s = self.session.now_s();
        if line.trim() == "help" {
            self.told.push(short_help(self.session.training()));
            return false;
        }
        match heed(self.session, &line) {
            Wish::Nothing => {
                self.running = !self.running;
                self.told.push(if self.running { "The clock runs." } else { "Paused." }.to_owned());
            }
            Wish::Told(text) => self.told.push(text),
            Wish::Done(text) => self.told.push(format!("{at_s:.0} s {line}: {text}")),
            Wish::Wait(_) => self.told.push("Here the clock runs by itself.".to_owned()),
            Wish::End => return true,
        }
        false
    }

    fn advance(&mut self, until_s: f64) -> Result<(), Problem> {
        let signals = view::curves(self.session.training().monitor);
        let before = self.session.seen().len();
        let curves = &mut self.curves;
        let by_instruments = self.session.scenario().instruments.is_some();
        let capnogram = &mut self.capnogram;
        let mut sample = |passing: &Passing<'_>| {
            let stretch = passing.stretch;
            capnogram.extend(
                passing.gas.iter().map(|point| (point.at_s, point.shown_carbon_dioxide_mmhg)),
            );
            for reading in passing.readings {
                let t = reading.at.as_s();
                let late = |last: &(f64, f64)| t - last.0 >= 1.0 / POINTS_PER_S;
                let shown =
                    [reading.pressure.as_cmh2o(), reading.flow.as_ml_s(), reading.volume.as_ml()];
                for (curve, value) in curves.iter_mut().zip(shown) {
                    if curve.back().is_none_or(late) {
                        curve.push_back((t, value));
                    }
                }
            }
            let piece = &stretch.piece;
            let mut t = (passing.since_s * POINTS_PER_S).ceil() / POINTS_PER_S;
            while t <= piece.end_s() && !by_instruments {
                if t > passing.since_s {
                    for (curve, (signal, _)) in curves.iter_mut().zip(signals) {
                        let value = piece.at(stretch.machine, *signal, t - piece.start_s);
                        curve.push_back((t, value));
                    }
                }
                t += 1.0 / POINTS_PER_S;
            }
        };
        self.session
            .advance(until_s, &mut sample)
            .map_err(|error| Problem::usage(error.to_string(), "check the scenario"))?;
        let from_s = self.session.now_s() - WINDOW_S;
        for curve in self.curves.iter_mut().chain([&mut self.capnogram]) {
            while curve.front().is_some_and(|&(t, _)| t < from_s) {
                curve.pop_front();
            }
        }
        for seen in &self.session.seen()[before..] {
            self.told.push(format!("{:.0} s {}", seen.at_s, seen.text));
        }
        if let Some(asked) = self.session.waits_for() {
            let (id, asks) = (&asked.id, &asked.asks);
            self.told.push(format!("{asks} Type: predict {id} up|same|down"));
            self.running = false;
        }
        if self.session.ended().is_some() {
            let why = ending(self.session);
            self.told.push(format!("{why} Press Enter for your debrief."));
            self.running = false;
        }
        Ok(())
    }

    fn draw(&mut self, frame: &mut Frame<'_>) {
        if !self.started {
            let text = opening(self.session) + "\nPress Enter to start; the clock then runs.";
            frame.render_widget(Paragraph::new(text).wrap(Wrap { trim: false }), frame.area());
            return;
        }
        let [head, middle, below, line] = Layout::vertical([
            Constraint::Length(2),
            Constraint::Min(8),
            Constraint::Length((frame.area().height / 3).clamp(6, 16)),
            Constraint::Length(1),
        ])
        .areas(frame.area());
        let wide = Constraint::Length(if frame.area().width >= 120 { 44 } else { 30 });
        let [left, right] =
            Layout::horizontal([Constraint::Min(20), wide]).spacing(1).areas(middle);
        self.draw_head(frame, head);
        self.draw_curves(frame, left);
        let set = self.draw_numbers(frame, right);
        self.draw_told(frame, below, set);
        let typed = format!("> {}", self.typed);
        frame.set_cursor_position((line.x + typed.chars().count() as u16, line.y));
        frame.render_widget(Paragraph::new(typed), line);
    }

    fn draw_head(&self, frame: &mut Frame<'_>, area: Rect) {
        let scenario = self.session.scenario();
        let title = scenario.title.clone().unwrap_or_else(|| scenario.id.to_string());
        let state = if self.running { "running" } else { "paused" };
        let time = format!("{:.0} s of {:.0}, {state}", self.session.now_s(), scenario.duration_s);
        let bold = Style::new().add_modifier(Modifier::BOLD);
        let lines = vec![
            Line::from(vec![Span::styled(title, bold), Span::raw("  "), Span::raw(time)]),
            Line::raw(
                "For teaching only. Not a medical device. Not for decisions about a patient.",
            ),
        ];
        frame.render_widget(Paragraph::new(lines), area);
    }

    fn draw_curves(&self, frame: &mut Frame<'_>, area: Rect) {
        let signals = view::curves(self.session.training().monitor);
        let curves = self.curves.iter().zip(signals).enumerate();
        let mut drawn: Vec<_> = curves
            .map(|(index, (curve, (_, name)))| (curve, *name, COLOURS[index % COLOURS.len()]))
            .collect();
        if view::has_capnogram(self.session) {
            drawn.push((&self.capnogram, "carbon dioxide mmHg", CAPNOGRAM));
        }
        if drawn.is_empty() {
            let text = "This monitor has no curves: read the gauge, look and listen.";
            frame.render_widget(Paragraph::new(text).wrap(Wrap { trim: true }), area);
            return;
        }
        let end_s = self.session.now_s().max(WINDOW_S);
        let rows = Layout::vertical(vec![Constraint::Fill(1); drawn.len()]).split(area);
        for (index, (curve, name, colour)) in drawn.into_iter().enumerate() {
            let points: Vec<(f64, f64)> = curve.iter().copied().collect();
            let values = points.iter().map(|point| point.1);
            let (low, high) =
                values.fold((0.0_f64, 1.0_f64), |(low, high), v| (low.min(v), high.max(v)));
            let data = Dataset::default()
                .marker(Marker::Braille)
                .graph_type(GraphType::Line)
                .style(Style::new().fg(colour))
                .data(&points);
            let labels = [format!("{low:.0}"), format!("{high:.0}")];
            let chart = Chart::new(vec![data])
                .block(Block::new().title(name))
                .x_axis(Axis::default().bounds([end_s - WINDOW_S, end_s]))
                .y_axis(Axis::default().bounds([low, high]).labels(labels));
            frame.render_widget(chart, rows[index]);
        }
    }

    /// Draws the numbers, and the controls below them; hands the controls back where
    /// there is no room for both.
    fn draw_numbers(&self, frame: &mut Frame<'_>, area: Rect) -> Option<String> {
        let bold = Style::new().add_modifier(Modifier::BOLD);
        let line = |one: view::Shown| {
            Line::from(vec![
                Span::raw(format!("{:<17}", one.name)),
                Span::styled(format!("{:>6} ", one.value), bold),
                Span::raw(one.unit),
            ])
        };
        let numbers = view::numbers(self.session).unwrap_or_default();
        let controls = view::controls(self.session);
        let rows = numbers.len() + 1 + controls.len();
        let mut lines: Vec<Line<'_>> = numbers.into_iter().map(line).collect();
        let crowded = rows > usize::from(area.height);
        let set = crowded.then(|| {
            let said =
                controls.iter().map(|one| format!("{} {} {}", one.name, one.value, one.unit));
            format!(" set: {} ", said.collect::<Vec<_>>().join(", "))
        });
        if !crowded {
            lines.push(Line::raw("set:"));
            lines.extend(controls.into_iter().map(line));
        }
        frame.render_widget(Paragraph::new(lines), area);
        set
    }

    fn draw_told(&mut self, frame: &mut Frame<'_>, area: Rect, set: Option<String>) {
        let text = self.told.join("\n");
        let mut block = Block::bordered().title("What you did and saw");
        if let Some(set) = set {
            block = block.title_bottom(set);
        }
        let told = Paragraph::new(text).wrap(Wrap { trim: false });
        // The newest lines stay in view.
        let width = area.width.saturating_sub(2);
        let rows: usize = self.told.iter().map(|text| rows(text, width)).sum();
        let over = rows.saturating_sub(usize::from(area.height.saturating_sub(2)));
        self.back = self.back.min(over);
        let over = over - self.back;
        let told = told.scroll((u16::try_from(over).unwrap_or(u16::MAX), 0)).block(block);
        frame.render_widget(told, area);
    }
}

/// Rows that a text takes at a width.
fn rows(text: &str, width: u16) -> usize {
    let width = usize::from(width.max(1));
    text.split('\n').map(|line| textwrap::wrap(line, width).len().max(1)).sum()
}
