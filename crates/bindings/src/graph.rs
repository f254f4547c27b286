//! The position graph for Python: columns in, columns out. `_core.pyi` says what each column holds.

use std::sync::{Arc, OnceLock};

use numpy::{IntoPyArray, PyArray1, PyReadonlyArray1};
use pyo3::create_exception;
use pyo3::exceptions::{PyException, PyValueError};
use pyo3::prelude::*;
use variorum_core::graph::{
    self, BuildFault, Built, ColumnFault, Count, Edges, Games, Incoming, KeyMap, NO_NODE, Positions, Value, Verdicts,
};
use variorum_core::moves::PackedMove;

use crate::board::Board;

create_exception!(_core, KeyCollisionError, PyException, "Two positions share a key: args are the key and both FENs.");

type Column<'py, T> = Bound<'py, PyArray1<T>>;
type Given<'py, T> = PyReadonlyArray1<'py, T>;
type ValueColumns<'py> =
    (Column<'py, f64>, Column<'py, u64>, Column<'py, u32>, Column<'py, u16>, Column<'py, u8>, Column<'py, u8>);

/// Graphs grow in threads of their own, half as many as there are processors: what a page asks for meanwhile neither waits
/// behind them in one queue nor finds every processor taken.
fn growing() -> &'static rayon::ThreadPool {
    static POOL: OnceLock<rayon::ThreadPool> = OnceLock::new();
    POOL.get_or_init(|| {
        let threads = rayon::current_num_threads().div_ceil(2);
        rayon::ThreadPoolBuilder::new().num_threads(threads).build().expect("threads can be started")
    })
}

fn fault(what: &ColumnFault) -> PyErr {
    PyValueError::new_err(what.to_string())
}

fn build_fault(what: &BuildFault) -> PyErr {
    match what {
        BuildFault::Collision(found) => {
            KeyCollisionError::new_err((found.key.0, found.first.clone(), found.second.clone()))
        }
        other => PyValueError::new_err(other.to_string()),
    }
}

#[derive(Debug)]
struct Columns {
    offsets: Vec<u32>,
    targets: Vec<u32>,
    incoming: Incoming,
}

impl Columns {
    fn edges(&self) -> Edges<'_> {
        Edges::new(&self.offsets, &self.targets).expect("checked when the graph was made")
    }

    fn node(&self, node: u32) -> PyResult<u32> {
        if (node as usize) + 1 < self.offsets.len() {
            Ok(node)
        } else {
            Err(PyValueError::new_err(format!("{node} is no node of the graph")))
        }
    }
}

/// Edges, with the arithmetic over them.
#[pyclass(frozen, module = "variorum._core")]
pub struct GraphCore {
    columns: Arc<Columns>,
}

impl GraphCore {
    /// The edges both ways, for the other files of this crate.
    pub fn edges(&self) -> (Edges<'_>, &Incoming) {
        (self.columns.edges(), &self.columns.incoming)
    }
}

#[pymethods]
impl GraphCore {
    #[new]
    fn new(py: Python<'_>, offsets: Given<'_, u32>, targets: Given<'_, u32>) -> PyResult<GraphCore> {
        let (offsets, targets) = (offsets.as_slice()?.to_vec(), targets.as_slice()?.to_vec());
        py.detach(|| {
            let incoming = Edges::new(&offsets, &targets)?.incoming();
            Ok(GraphCore { columns: Arc::new(Columns { offsets, targets, incoming }) })
        })
        .map_err(|what| fault(&what))
    }

    fn arrivals(&self, node: u32) -> PyResult<Vec<(u32, u32)>> {
        let Columns { incoming, .. } = &*self.columns;
        let node = self.columns.node(node)?;
        Ok(incoming.sources(node).iter().copied().zip(incoming.edges(node).iter().copied()).collect())
    }

    fn components<'py>(&self, py: Python<'py>) -> Column<'py, u32> {
        py.detach(|| graph::components(self.columns.edges(), |_| true).of).into_pyarray(py)
    }

    fn basin<'py>(&self, py: Python<'py>, target: u32) -> PyResult<Column<'py, u32>> {
        let target = self.columns.node(target)?;
        Ok(py.detach(|| self.columns.incoming.basin(target)).into_pyarray(py))
    }

    #[allow(clippy::type_complexity)] // columns of columns
    fn values<'py>(
        &self,
        py: Python<'py>,
        moves: Given<'py, u16>,
        legal: Given<'py, u16>,
        white: Given<'py, bool>,
        outcome: Given<'py, u8>,
        voices: Vec<(Given<'py, u32>, Given<'py, u64>, Given<'py, u32>, Given<'py, u16>, Given<'py, f64>)>,
    ) -> PyResult<Vec<ValueColumns<'py>>> {
        let (moves, legal, white, outcome) =
            (moves.as_slice()?, legal.as_slice()?, white.as_slice()?, outcome.as_slice()?);
        let verdicts = voices
            .iter()
            .map(|(nodes, efforts, offsets, moves, scores)| {
                let (nodes, efforts, offsets) = (nodes.as_slice()?, efforts.as_slice()?, offsets.as_slice()?);
                Verdicts::new(nodes, efforts, offsets, moves.as_slice()?, scores.as_slice()?)
                    .map_err(|what| fault(&what))
            })
            .collect::<PyResult<Vec<_>>>()?;
        let values = py
            .detach(|| {
                let positions = Positions::new(self.columns.edges(), moves, legal, white, outcome)?;
                graph::back_up_all(&positions, &self.columns.incoming, &verdicts)
            })
            .map_err(|what| fault(&what))?;
        Ok(values.iter().map(|voice| value_columns(py, voice)).collect())
    }

    fn course(&self, py: Python<'_>, roots: Given<'_, u32>) -> PyResult<Course> {
        let roots = roots.as_slice()?;
        let course = py.detach(|| graph::Course::new(self.columns.edges(), roots)).map_err(|what| fault(&what))?;
        Ok(Course { columns: Arc::clone(&self.columns), course })
    }
}

fn value_columns<'py>(py: Python<'py>, values: &[Value]) -> ValueColumns<'py> {
    fn column<'py, T: numpy::Element>(py: Python<'py>, values: &[Value], of: impl Fn(&Value) -> T) -> Column<'py, T> {
        values.iter().map(of).collect::<Vec<T>>().into_pyarray(py)
    }
    (
        column(py, values, |value| value.score),
        column(py, values, |value| value.effort),
        column(py, values, |value| value.leaf),
        column(py, values, |value| value.via),
        column(py, values, |value| value.certainty as u8),
        column(py, values, |value| value.basis as u8),
    )
}

/// How traffic runs from roots through a graph.
#[pyclass(frozen, module = "variorum._core")]
pub struct Course {
    columns: Arc<Columns>,
    course: graph::Course,
}

impl Course {
    /// The edges and the course, for the other files of this crate.
    pub fn laid(&self) -> (Edges<'_>, &graph::Course) {
        (self.columns.edges(), &self.course)
    }
}

#[pymethods]
impl Course {
    #[getter]
    fn depth<'py>(&self, py: Python<'py>) -> Column<'py, u32> {
        self.course.depth.clone().into_pyarray(py)
    }

    #[getter]
    fn returns<'py>(&self, py: Python<'py>) -> Column<'py, bool> {
        self.course.returns.clone().into_pyarray(py)
    }

    fn flow<'py>(
        &self,
        py: Python<'py>,
        starts: Given<'py, f64>,
        shares: Given<'py, f64>,
    ) -> PyResult<(Column<'py, f64>, Column<'py, f64>)> {
        let (starts, shares) = (starts.as_slice()?, shares.as_slice()?);
        let flow = py.detach(|| self.course.flow(self.columns.edges(), starts, shares)).map_err(|what| fault(&what))?;
        Ok((flow.nodes.into_pyarray(py), flow.edges.into_pyarray(py)))
    }

    fn order_counts<'py>(&self, py: Python<'py>) -> Column<'py, u64> {
        py.detach(|| self.course.order_counts()).into_pyarray(py)
    }

    fn last_shared<'py>(&self, py: Python<'py>) -> Column<'py, u32> {
        py.detach(|| self.course.last_shared()).into_pyarray(py)
    }

    #[allow(clippy::type_complexity)] // (start, edges, weight) of each order, and their number
    fn orders_to(
        &self,
        py: Python<'_>,
        target: u32,
        since: Option<u32>,
        starts: Given<'_, f64>,
        shares: Given<'_, f64>,
        limit: usize,
    ) -> PyResult<(Vec<(u32, Vec<u32>, f64)>, u64)> {
        let (starts, shares) = (starts.as_slice()?, shares.as_slice()?);
        let (orders, count) = py
            .detach(|| self.course.orders_to(target, since.unwrap_or(NO_NODE), starts, shares, limit))
            .map_err(|what| fault(&what))?;
        Ok((orders.into_iter().map(|order| (order.start, order.edges, order.weight)).collect(), count))
    }

    fn least_worst<'py>(&self, py: Python<'py>, weights: Given<'py, f64>) -> PyResult<Column<'py, f64>> {
        let weights = weights.as_slice()?;
        let least = py.detach(|| self.course.least_worst(weights)).map_err(|what| fault(&what))?;
        Ok(least.into_pyarray(py))
    }

    fn passing<'py>(&self, py: Python<'py>, target: u32) -> PyResult<Column<'py, u64>> {
        let passing = py.detach(|| self.course.passing(self.columns.edges(), target)).map_err(|what| fault(&what))?;
        Ok(passing.into_pyarray(py))
    }

    fn guarantee<'py>(
        &self,
        py: Python<'py>,
        own: Given<'py, bool>,
        takes: Given<'py, f64>,
        leaves: Given<'py, f64>,
        back: Vec<(u32, u32)>,
    ) -> PyResult<Column<'py, f64>> {
        let (own, takes, leaves) = (own.as_slice()?, takes.as_slice()?, leaves.as_slice()?);
        let least = py
            .detach(|| self.course.guarantee(self.columns.edges(), own, takes, leaves, &back))
            .map_err(|what| fault(&what))?;
        Ok(least.into_pyarray(py))
    }
}

/// Every position that the legal orders of a line's moves pass on the way to the same end, packed, and how many orders.
#[pyfunction]
pub fn interleavings<'py>(
    py: Python<'py>,
    start: &Board,
    moves: Given<'py, u16>,
    limit: usize,
) -> PyResult<(Column<'py, u8>, u64)> {
    let line: Vec<PackedMove> = moves.as_slice()?.iter().copied().map(PackedMove).collect();
    let found = py.detach(|| graph::interleavings(start.position(), &line, limit)).map_err(|what| fault(&what))?;
    Ok((found.positions.concat().into_pyarray(py), found.orders))
}

/// Takes in roots, texts, verdicts and games, and makes the columns of a graph.
#[pyclass(module = "variorum._core")]
pub struct GraphBuilder {
    builder: Option<graph::GraphBuilder>,
}

impl GraphBuilder {
    fn open(&mut self) -> PyResult<&mut graph::GraphBuilder> {
        self.builder.as_mut().ok_or_else(|| PyValueError::new_err("this graph is finished"))
    }
}

/// One batch of games as Python gives it.
#[derive(FromPyObject)]
struct Batch<'py> {
    #[pyo3(item(0))]
    offsets: Given<'py, u64>,
    #[pyo3(item(1))]
    moves: Given<'py, u16>,
    #[pyo3(item(2))]
    root_ply: Given<'py, u16>,
    #[pyo3(item(3))]
    result: Given<'py, u8>,
    #[pyo3(item(4))]
    channel: Given<'py, u16>,
    #[pyo3(item(5))]
    starts: Vec<(u64, Bound<'py, Board>)>,
}

impl Batch<'_> {
    fn with<T: Send>(
        &self,
        py: Python<'_>,
        work: impl Send + FnOnce(&Games<'_>) -> Result<T, BuildFault>,
    ) -> PyResult<T> {
        let starts: KeyMap<_> =
            self.starts.iter().map(|(game, board)| (*game, board.get().position().clone())).collect();
        let games = Games {
            offsets: self.offsets.as_slice()?,
            moves: self.moves.as_slice()?,
            root_ply: self.root_ply.as_slice()?,
            result: self.result.as_slice()?,
            channel: self.channel.as_slice()?,
            starts: &starts,
        };
        py.detach(|| growing().install(|| work(&games))).map_err(|what| build_fault(&what))
    }
}

#[pymethods]
impl GraphBuilder {
    #[new]
    fn new(min_games: u32, horizon: u16, expected: u64) -> GraphBuilder {
        GraphBuilder { builder: Some(graph::GraphBuilder::new(min_games, horizon, expected)) }
    }

    fn add_root(&mut self, board: &Board) -> PyResult<()> {
        self.open()?.add_root(board.position()).map_err(|what| build_fault(&what))
    }

    fn add_verdict(&mut self, board: &Board) -> PyResult<()> {
        self.open()?.add_verdict(board.position()).map_err(|what| build_fault(&what))
    }

    fn add_text(&mut self, start: &Board, moves: Given<'_, u16>, channel: u16) -> PyResult<bool> {
        self.open()?.add_text(start.position(), moves.as_slice()?, channel).map_err(|what| build_fault(&what))
    }

    #[getter]
    fn counts_first(&mut self) -> PyResult<bool> {
        Ok(self.open()?.counts_first())
    }

    fn count(&mut self, py: Python<'_>, games: Batch<'_>) -> PyResult<()> {
        let builder = self.open()?;
        games.with(py, |games| builder.count(games))
    }

    fn collect(&mut self, py: Python<'_>, games: Batch<'_>) -> PyResult<()> {
        let builder = self.open()?;
        games.with(py, |games| builder.collect(games))
    }

    fn finish(&mut self, py: Python<'_>) -> PyResult<GraphColumns> {
        let builder = self.builder.take().ok_or_else(|| PyValueError::new_err("this graph is finished"))?;
        let built = py.detach(|| growing().install(|| builder.finish())).map_err(|what| build_fault(&what))?;
        Ok(GraphColumns { built })
    }
}

/// The columns of a graph, each copied when it is asked for.
#[pyclass(frozen, module = "variorum._core")]
pub struct GraphColumns {
    built: Built,
}

impl GraphColumns {
    fn counts<'py, P>(py: Python<'py>, counts: &[Count<P>]) -> (Column<'py, u16>, Column<'py, u32>) {
        let channels: Vec<u16> = counts.iter().map(|count| count.channel).collect();
        let games: Vec<u32> = counts.iter().flat_map(|count| count.games).collect();
        (channels.into_pyarray(py), games.into_pyarray(py))
    }
}

#[pymethods]
impl GraphColumns {
    #[getter]
    fn keys<'py>(&self, py: Python<'py>) -> Column<'py, u64> {
        self.built.keys.clone().into_pyarray(py)
    }

    #[getter]
    fn positions<'py>(&self, py: Python<'py>) -> Column<'py, u8> {
        self.built.positions.concat().into_pyarray(py)
    }

    #[getter]
    fn flags<'py>(&self, py: Python<'py>) -> Column<'py, u8> {
        self.built.flags.clone().into_pyarray(py)
    }

    #[getter]
    fn legal<'py>(&self, py: Python<'py>) -> Column<'py, u16> {
        self.built.legal.clone().into_pyarray(py)
    }

    #[getter]
    fn white<'py>(&self, py: Python<'py>) -> Column<'py, bool> {
        self.built.white.clone().into_pyarray(py)
    }

    #[getter]
    fn outcome<'py>(&self, py: Python<'py>) -> Column<'py, u8> {
        self.built.outcome.clone().into_pyarray(py)
    }

    #[getter]
    fn offsets<'py>(&self, py: Python<'py>) -> Column<'py, u32> {
        self.built.offsets.clone().into_pyarray(py)
    }

    #[getter]
    fn targets<'py>(&self, py: Python<'py>) -> Column<'py, u32> {
        self.built.targets.clone().into_pyarray(py)
    }

    #[getter]
    fn moves<'py>(&self, py: Python<'py>) -> Column<'py, u16> {
        self.built.moves.clone().into_pyarray(py)
    }

    #[getter]
    fn roots<'py>(&self, py: Python<'py>) -> Column<'py, u32> {
        self.built.roots.clone().into_pyarray(py)
    }

    #[getter]
    fn elsewhere<'py>(&self, py: Python<'py>) -> Column<'py, u32> {
        self.built.elsewhere.clone().into_pyarray(py)
    }

    fn node_counts<'py>(&self, py: Python<'py>) -> (Column<'py, u32>, Column<'py, u16>, Column<'py, u32>) {
        let counts = &self.built.node_counts;
        let at: Vec<u32> = counts.iter().map(|count| count.at).collect();
        let (channels, games) = Self::counts(py, counts);
        (at.into_pyarray(py), channels, games)
    }

    fn edge_counts<'py>(&self, py: Python<'py>) -> (Column<'py, u32>, Column<'py, u16>, Column<'py, u32>) {
        let counts = &self.built.edge_counts;
        let at: Vec<u32> = counts.iter().map(|count| count.at).collect();
        let (channels, games) = Self::counts(py, counts);
        (at.into_pyarray(py), channels, games)
    }

    #[allow(clippy::type_complexity)] // four columns
    fn off_counts<'py>(
        &self,
        py: Python<'py>,
    ) -> (Column<'py, u32>, Column<'py, u16>, Column<'py, u16>, Column<'py, u32>) {
        let counts = &self.built.off_counts;
        let nodes: Vec<u32> = counts.iter().map(|count| count.at.0).collect();
        let moves: Vec<u16> = counts.iter().map(|count| count.at.1).collect();
        let (channels, games) = Self::counts(py, counts);
        (nodes.into_pyarray(py), moves.into_pyarray(py), channels, games)
    }

    #[getter]
    fn unreached(&self) -> (u64, u64) {
        (self.built.unreached_games, self.built.unreached_verdicts)
    }
}

/// The board of a packed position.
#[pyfunction]
pub fn unpack_position(packed: Given<'_, u8>) -> PyResult<Board> {
    let bytes = packed.as_slice()?.try_into().ok();
    bytes
        .and_then(|bytes| graph::unpack(&bytes))
        .map(Board::from)
        .ok_or_else(|| PyValueError::new_err("these bytes are no packed position"))
}
