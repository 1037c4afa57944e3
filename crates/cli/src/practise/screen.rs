//! A session on the whole terminal: curves, numbers, the last things seen, and a
//! line to type on. The clock runs by itself.

use std::io::{self, Write as _};
use std::time::{Duration, Instant};

use ratatui::crossterm::event::{self, Event, KeyCode, KeyEventKind, KeyModifiers};
use ratatui::layout::{Constraint, Layout, Rect};
use ratatui::style::{Color, Modifier, Style};
use ratatui::symbols::Marker;
use ratatui::text::{Line, Span};
use ratatui::widgets::{Axis, Block, Chart, Dataset, GraphType, Paragraph, Wrap};
use ratatui::{DefaultTerminal, Frame};
use tidewright_scenario::format::Cut;
use tidewright_training::alarms::alarms;
use tidewright_training::debrief::said_act;
use tidewright_training::desk::{Desk, Reply, Trace, WINDOW_S, opening, patient};
use tidewright_training::{Session, view};

use super::Log;
use crate::files::problem::Problem;
use crate::files::stop::{self, Keeping};

/// Blue, vermillion and green that stay apart for most eyes; a label stands
/// beside each curve, so that none is known by colour alone.
const COLOURS: [Color; 3] =
    [Color::Rgb(86, 180, 233), Color::Rgb(230, 159, 0), Color::Rgb(0, 158, 115)];
/// The same for the capnogram: reddish purple.
const CAPNOGRAM: Color = Color::Rgb(204, 121, 167);

/// How long the news that the terminal was closed may be on its way.
const NEWS_TAKES: Duration = Duration::from_millis(300);

/// Rows by which Page Up turns the told text back.
const ROWS_BACK: usize = 4;

struct Screen {
    desk: Desk,
    typed: String,
    /// Rows that the told text is turned back, to read what has moved out of view.
    back: usize,
    /// Whether an alarm rings the terminal's bell.
    bell: bool,
}

/// Runs the session to its end; and what cut it off, if anything did.
pub fn on_screen(
    session: Session,
    speed: f64,
    bell: bool,
    log: &Log,
) -> Result<(Session, Option<Cut>), Problem> {
    let keeping = Keeping::begin();
    stop::watch_terminal();
    let mut screen = Screen { desk: Desk::new(session), typed: String::new(), back: 0, bell };
    screen.desk.set_speed(speed);
    if let Some(caution) = log.caution() {
        screen.desk.tell(caution);
    }
    let mut terminal = ratatui::try_init().map_err(terminal_fails)?;
    let outcome = screen.run(&mut terminal, log).or_else(|problem| {
        // A terminal that was closed fails first and is told of later.
        std::thread::sleep(NEWS_TAKES);
        stop::asked().map(Some).ok_or(problem)
    });
    ratatui::restore();
    drop(keeping);
    outcome.map(|cut| (screen.desk.into_session(), cut))
}

fn terminal_fails(error: io::Error) -> Problem {
    Problem::Write {
        what: format!("the terminal cannot be drawn on: {error}"),
        mend: Some("add `--plain` for a session in lines".to_owned()),
    }
}

impl Screen {
    fn run(&mut self, terminal: &mut DefaultTerminal, log: &Log) -> Result<Option<Cut>, Problem> {
        let mut last = Instant::now();
        loop {
            if let Some(by) = stop::asked() {
                return Ok(Some(by));
            }
            terminal.draw(|frame| self.draw(frame)).map_err(terminal_fails)?;
            if event::poll(Duration::from_millis(40)).map_err(terminal_fails)?
                && let Event::Key(key) = event::read().map_err(terminal_fails)?
                && key.kind == KeyEventKind::Press
            {
                let stop = key.modifiers.contains(KeyModifiers::CONTROL);
                match key.code {
                    KeyCode::Char('c') if stop => return Ok(Some(Cut::CtrlC)),
                    KeyCode::Char('d') if stop => return Ok(None),
                    KeyCode::Char(c) => self.typed.push(c),
                    KeyCode::Backspace => {
                        self.typed.pop();
                    }
                    KeyCode::Esc => self.typed.clear(),
                    KeyCode::PageUp => self.back += ROWS_BACK,
                    KeyCode::PageDown => self.back = self.back.saturating_sub(ROWS_BACK),
                    KeyCode::Enter if self.entered() => return Ok(None),
                    _ => {}
                }
            }
            // A computer that slept must not skip a part of the lesson.
            let passed_s = last.elapsed().as_secs_f64().min(0.25);
            last = Instant::now();
            let passed = self.desk.pass(passed_s);
            passed.map_err(|error| Problem::usage(error.to_string(), "check the scenario"))?;
            if self.desk.rings() && self.bell {
                terminal.backend_mut().write_all(b"\x07").map_err(terminal_fails)?;
            }
            if let Some(told) = log.keep(self.desk.session()) {
                self.desk.tell(told);
            }
        }
    }

    /// Carries out the typed line; whether the session is to be left.
    fn entered(&mut self) -> bool {
        let line = std::mem::take(&mut self.typed);
        self.back = 0;
        if !self.desk.is_started() {
            self.desk.start();
            return false;
        }
        self.desk.enter(&line) == Reply::End
    }

    fn draw(&mut self, frame: &mut Frame<'_>) {
        if !self.desk.is_started() {
            let text =
                opening(self.desk.session()) + "\nPress Enter to start; the clock then runs.";
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
        let session = self.desk.session();
        let scenario = session.scenario();
        let title = scenario.title.clone().unwrap_or_else(|| scenario.id.to_string());
        let state = if self.desk.is_running() { "running" } else { "paused" };
        let mut time = format!("{:.0} s of {:.0}, {state}", session.now_s(), scenario.duration_s);
        if self.desk.speed() != 1.0 {
            time += &format!(", {} times as fast", self.desk.speed());
        }
        if let Some(until_s) = session.busy_until_s() {
            time += &format!(", hands busy until {until_s:.0} s");
        }
        let bold = Style::new().add_modifier(Modifier::BOLD);
        let whom = format!("  {}  ", patient(session));
        let lines = vec![
            Line::from(vec![Span::styled(title, bold), Span::raw(whom), Span::raw(time)]),
            Line::raw(
                "For teaching only. Not a medical device. Not for decisions about a patient.",
            ),
        ];
        frame.render_widget(Paragraph::new(lines), area);
    }

    fn draw_curves(&self, frame: &mut Frame<'_>, area: Rect) {
        let drawn: Vec<&Trace> = self.desk.traces().iter().collect();
        if drawn.is_empty() {
            let text = "This monitor has no curves: read the gauge, look and listen.";
            frame.render_widget(Paragraph::new(text).wrap(Wrap { trim: true }), area);
            return;
        }
        let end_s = self.desk.session().now_s().max(WINDOW_S);
        let rows = Layout::vertical(vec![Constraint::Fill(1); drawn.len()]).split(area);
        for (index, curve) in drawn.into_iter().enumerate() {
            let is_capnogram = self.desk.traces().capnogram() == Some(curve);
            let colour = if is_capnogram { CAPNOGRAM } else { COLOURS[index % COLOURS.len()] };
            let points: Vec<(f64, f64)> = curve.points.iter().copied().collect();
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
                .block(Block::new().title(curve.name))
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
        let numbers = view::numbers(self.desk.session()).unwrap_or_default();
        let controls = view::controls(self.desk.session());
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
        let told: Vec<&str> = self.desk.told().iter().map(|told| told.says.as_str()).collect();
        let text = told.join("\n");
        let mut block = Block::bordered().title("What you did and saw");
        let waiting = self.desk.session().waiting().iter().map(|one| said_act(&one.act));
        let waiting: Vec<String> = waiting.collect();
        if !waiting.is_empty() {
            block = block.title(format!(" waiting: {} (undo) ", waiting.join(", ")));
        }
        let sounding = alarms(self.desk.session()).into_iter().filter(|one| one.sounds.is_some());
        for alarm in sounding {
            let strong = Style::new().add_modifier(Modifier::BOLD | Modifier::REVERSED);
            block = block.title(Span::styled(format!(" {} ", alarm.in_words()), strong));
        }
        if let Some(set) = set {
            block = block.title_bottom(set);
        }
        // The newest lines stay in view.
        let width = area.width.saturating_sub(2);
        let rows: usize = told.iter().map(|text| rows(text, width)).sum();
        let over = rows.saturating_sub(usize::from(area.height.saturating_sub(2)));
        self.back = self.back.min(over);
        let over = over - self.back;
        let told = Paragraph::new(text).wrap(Wrap { trim: false });
        let told = told.scroll((u16::try_from(over).unwrap_or(u16::MAX), 0)).block(block);
        frame.render_widget(told, area);
    }
}

/// Rows that a text takes at a width.
fn rows(text: &str, width: u16) -> usize {
    let width = usize::from(width.max(1));
    text.split('\n').map(|line| textwrap::wrap(line, width).len().max(1)).sum()
}
