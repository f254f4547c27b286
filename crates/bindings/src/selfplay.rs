//! Games of the resident against itself, for Python.

use std::ops::ControlFlow;
use std::time::{Duration, Instant};

use numpy::{IntoPyArray, PyArray1};
use pyo3::exceptions::PyValueError;
use pyo3::prelude::*;
use shakmaty::{Color, Position};
use variorum_resident::Score;
use variorum_resident::selfplay::{
    Agreement, Ending, Event, Opening, Plan, Played, Rules, Strength, Variety, play_all,
};

use crate::board::Board;
use crate::resident::line_from;

/// Progress is told at most this often.
const TELLING: Duration = Duration::from_millis(100);

/// Columns of the games that were finished, in the order of their plans.
#[pyclass(frozen, get_all, module = "variorum._core")]
pub struct PlayedGames {
    plan: Py<PyArray1<u32>>,
    result: Vec<&'static str>,
    ending: Vec<&'static str>,
    opening_plies: Py<PyArray1<u16>>,
    offsets: Py<PyArray1<u64>>,
    moves: Py<PyArray1<u16>>,
    cp: Py<PyArray1<i16>>,
    mate: Py<PyArray1<i16>>,
    depth: Py<PyArray1<u8>>,
    nodes: Py<PyArray1<u32>>,
}

/// Opening, White's nodes and temperature, Black's nodes and temperature, seed.
type PlanFields = (usize, u64, i32, u64, i32, u64);
/// Centipawns, plies in a row, first ply.
type AgreementFields = (i32, usize, usize);

#[pyfunction]
#[pyo3(signature = (openings, plans, *, variety=(0, 0, 0), choices=5, win=Some((900, 6, 20)), draw=Some((8, 16, 80)), max_plies=400, threads=1, callback=None))]
#[expect(clippy::too_many_arguments, reason = "keyword arguments of Python")]
pub fn self_play(
    py: Python<'_>,
    openings: Vec<(PyRef<'_, Board>, Vec<String>)>,
    plans: Vec<PlanFields>,
    variety: (usize, i32, i32),
    choices: usize,
    win: Option<AgreementFields>,
    draw: Option<AgreementFields>,
    max_plies: usize,
    threads: usize,
    callback: Option<Py<PyAny>>,
) -> PyResult<PlayedGames> {
    let openings = openings.iter().map(|(board, moves)| opening_of(board, moves)).collect::<PyResult<Vec<_>>>()?;
    let plans = plans.into_iter().map(|fields| plan_of(fields, openings.len())).collect::<PyResult<Vec<_>>>()?;
    if choices == 0 || max_plies == 0 || threads == 0 || variety.1 < 0 || variety.2 < 0 {
        return Err(PyValueError::new_err("choices, max_plies and threads are positive, variety is not negative"));
    }
    let agreement = |(centipawns, plies, from_ply)| Agreement { centipawns, plies, from_ply };
    let rules = Rules {
        variety: Variety { plies: variety.0, temperature: variety.1, margin: variety.2 },
        choices,
        win: win.map(agreement),
        draw: draw.map(agreement),
        max_plies,
        ..Rules::default()
    };
    let games = py.detach(|| play(&openings, &plans, &rules, threads, callback.as_ref()))?;
    Ok(columns(py, &openings, &plans, games.into_iter().enumerate().filter_map(|(index, game)| Some((index, game?)))))
}

fn play(
    openings: &[Opening],
    plans: &[Plan],
    rules: &Rules,
    threads: usize,
    callback: Option<&Py<PyAny>>,
) -> PyResult<Vec<Option<Played>>> {
    let mut fault = None;
    let mut done = 0;
    let mut fresh: Vec<(usize, Played)> = Vec::new();
    let mut told = Instant::now();
    let games = play_all(openings, plans, rules, threads, &mut |event| {
        if let Event::Finished(index, played) = event {
            done += 1;
            if callback.is_some() {
                fresh.push((index, played.clone()));
            }
        }
        if told.elapsed() < TELLING && done < plans.len() {
            return ControlFlow::Continue(());
        }
        told = Instant::now();
        let go_on = Python::attach(|py| {
            let heard = match callback {
                Some(callback) => {
                    let games = columns(py, openings, plans, fresh.drain(..));
                    callback.bind(py).call1((games,))?.is_truthy()?
                }
                None => true,
            };
            py.check_signals()?;
            Ok(heard)
        });
        match go_on {
            Ok(true) => return ControlFlow::Continue(()),
            Ok(false) => {}
            Err(error) => fault = Some(error),
        }
        ControlFlow::Break(())
    });
    fault.map_or(Ok(games), Err)
}

fn opening_of(board: &Board, moves: &[String]) -> PyResult<Opening> {
    if board.position().legal_moves().is_empty() {
        return Err(PyValueError::new_err("an opening in which the game is over"));
    }
    let packed = line_from(board.position(), moves)?;
    Ok(Opening::new(board.position().clone(), packed).expect("the line was read as legal"))
}

fn plan_of(fields: PlanFields, openings: usize) -> PyResult<Plan> {
    let (opening, white_nodes, white_temperature, black_nodes, black_temperature, seed) = fields;
    if opening >= openings {
        return Err(PyValueError::new_err(format!("a plan names opening {opening} of {openings}")));
    }
    if white_nodes == 0 || black_nodes == 0 || white_temperature < 0 || black_temperature < 0 {
        return Err(PyValueError::new_err("nodes are positive and temperatures not negative"));
    }
    Ok(Plan {
        opening,
        white: Strength { nodes: white_nodes, temperature: white_temperature },
        black: Strength { nodes: black_nodes, temperature: black_temperature },
        seed,
    })
}

fn columns(
    py: Python<'_>,
    openings: &[Opening],
    plans: &[Plan],
    games: impl Iterator<Item = (usize, Played)>,
) -> PlayedGames {
    let (mut plan, mut result, mut ending) = (Vec::new(), Vec::new(), Vec::new());
    let (mut opening_plies, mut offsets) = (Vec::new(), vec![0]);
    let (mut moves, mut cp, mut mate, mut depth, mut nodes) =
        (Vec::new(), Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for (index, game) in games {
        plan.push(index as u32);
        result.push(match game.winner {
            None => "*",
            Some(None) => "1/2-1/2",
            Some(Some(Color::White)) => "1-0",
            Some(Some(Color::Black)) => "0-1",
        });
        ending.push(ending_word(game.ending));
        let before = game.moves.len() - game.thoughts.len();
        opening_plies.push(before as u16);
        let black_starts = openings[plans[index].opening].start().turn().is_black();
        for (ply, m) in game.moves.iter().enumerate() {
            moves.push(m.0);
            let thought = ply.checked_sub(before).map(|number| &game.thoughts[number]);
            let sign = if (ply % 2 == 1) == black_starts { 1 } else { -1 };
            let (score, its_depth, its_nodes) =
                thought.map_or((Score::Centipawns(0), 0, 0), |thought| (thought.score, thought.depth, thought.nodes));
            let (its_cp, its_mate) = match score {
                Score::Centipawns(value) => (value, 0),
                Score::Mate(count) => (0, count),
            };
            cp.push((sign * its_cp) as i16);
            mate.push((sign * its_mate) as i16);
            depth.push(its_depth as u8);
            nodes.push(its_nodes.min(u64::from(u32::MAX)) as u32);
        }
        offsets.push(moves.len() as u64);
    }
    PlayedGames {
        plan: plan.into_pyarray(py).unbind(),
        result,
        ending,
        opening_plies: opening_plies.into_pyarray(py).unbind(),
        offsets: offsets.into_pyarray(py).unbind(),
        moves: moves.into_pyarray(py).unbind(),
        cp: cp.into_pyarray(py).unbind(),
        mate: mate.into_pyarray(py).unbind(),
        depth: depth.into_pyarray(py).unbind(),
        nodes: nodes.into_pyarray(py).unbind(),
    }
}

const fn ending_word(ending: Ending) -> &'static str {
    match ending {
        Ending::Mate => "mate",
        Ending::Stalemate => "stalemate",
        Ending::Repetition => "repetition",
        Ending::FiftyMoves => "fifty moves",
        Ending::DeadPosition => "dead position",
        Ending::Agreed => "agreed",
        Ending::Length => "length",
    }
}
