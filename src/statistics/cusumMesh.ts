import { type AbsorbingChain } from './absorbingChain.js'
import { normalCdf, normalPdf, normalUpperTail } from './distributions.js'
import { gaussLegendre, type QuadratureRule } from './gaussLegendre.js'

/** Upper CUSUM S ← max(0, S + min(x − k, cap)) of independent x ~ N(shift, 1), signal at S > h. Unit: sigma of x. */
export interface CappedChart {
  readonly k: number
  readonly h: number
  readonly shift: number
  /** Largest rise in one step; Infinity for none. */
  readonly cap: number
}

/** Gauss–Legendre cells on 0 to h and the points the sum can stand on exactly. */
export interface CusumMesh {
  readonly chart: CappedChart
  /** Every state's value of S, ascending; the first is 0. */
  readonly values: Float64Array
  readonly cells: readonly Cell[]
  /** Positions in values of 0, cap, 2·cap … up to h. */
  readonly atoms: readonly number[]
}

interface Cell {
  readonly from: number
  readonly to: number
  readonly rule: QuadratureRule
  /** Position in values of the first node. */
  readonly first: number
}

// In sigma. With these run lengths agree to 1e-9 with a solution of 64 nodes on the whole width.
const WIDEST_CELL = 3
const NODES = 10
const NARROW_CELL = 0.8
const NODES_OF_NARROW_CELL = 7
// φ(12) is 2e-32: it cannot show in a run length that still counts as finite.
const DENSITY_IS_ZERO_BEYOND = 12
// Of the limit: edges nearer than this are one.
const SAME = 1e-9

/**
 * Run lengths as a function of the start have a jump at h − cap, h − 2·cap …, since a capped step from above leads out
 * and from below does not. Cells end there and at the multiples of the cap, so that inside each one all is smooth.
 */
export function cusumMesh(chart: CappedChart): CusumMesh {
  const { h, k, shift } = chart
  const capMatters = chart.cap < h * (1 + SAME) && normalUpperTail(chart.cap + k - shift) > 0
  const cap = capMatters ? chart.cap : Infinity
  const values: number[] = [0]
  const atoms: number[] = [0]
  const cells: Cell[] = []
  const edges = cellEdges(h, cap)
  for (let i = 0; i + 1 < edges.length; i++) {
    const from = edges[i]!
    const to = edges[i + 1]!
    const rule = gaussLegendre(to - from < NARROW_CELL ? NODES_OF_NARROW_CELL : NODES)
    cells.push({ from, to, rule, first: values.length })
    for (const node of rule.nodes) values.push((from + to) / 2 + ((to - from) / 2) * node)
    if (isSame(to, atoms.length * cap, h)) {
      atoms.push(values.length)
      values.push(to)
    }
  }
  return { chart: { ...chart, cap }, values: Float64Array.from(values), cells, atoms }
}

/** Moves between the states of the mesh and signals, as a chain absorbed by the signal. */
export function cusumChain(mesh: CusumMesh): AbsorbingChain {
  const n = mesh.values.length
  const moves = new Float64Array(n * n)
  const absorption = new Float64Array(n)
  for (let i = 0; i < n; i++) {
    absorption[i] = fillMoves(mesh, mesh.values[i]!, moves.subarray(i * n, (i + 1) * n))
  }
  return { n, moves, absorption }
}

/**
 * The same states with another mean, so that a law over them can be carried from one mean to the other. The mesh must be
 * made for the larger mean, since at a smaller one its cap may not matter and has no states of its own.
 */
export function atShift(mesh: CusumMesh, shift: number): CusumMesh {
  return { ...mesh, chart: { ...mesh.chart, shift } }
}

/** Adds to row the probabilities of one step from S = start to every state. @returns that of a signal */
export function fillMoves(mesh: CusumMesh, start: number, row: Float64Array): number {
  const { h, k, shift, cap } = mesh.chart
  const toZero = k - shift - start
  row[0] = normalCdf(toZero)
  const landing = start + cap
  for (const cell of mesh.cells) {
    if (landing <= cell.from + SAME * h) break
    if (landing < cell.to - SAME * h) {
      addPartOfCell(row, cell, landing, toZero)
      break
    }
    const half = (cell.to - cell.from) / 2
    for (let j = 0; j < cell.rule.nodes.length; j++) {
      const z = mesh.values[cell.first + j]! + toZero
      if (Math.abs(z) < DENSITY_IS_ZERO_BEYOND) row[cell.first + j] = half * cell.rule.weights[j]! * normalPdf(z)
    }
  }
  if (landing > h * (1 + SAME)) return normalUpperTail(h + toZero)
  addLanding(mesh, row, landing, normalUpperTail(cap + k - shift))
  return 0
}

function cellEdges(h: number, cap: number): number[] {
  const breaks = [0, h]
  for (let j = 1; j * cap < h * (1 + SAME); j++) breaks.push(j * cap, h - j * cap)
  breaks.sort((a, b) => a - b)
  const edges = [0]
  for (const next of breaks) {
    const last = edges[edges.length - 1]!
    if (next - last <= SAME * h) continue
    const parts = Math.ceil((next - last) / WIDEST_CELL)
    for (let part = 1; part <= parts; part++) edges.push(part === parts ? next : last + ((next - last) * part) / parts)
  }
  return edges
}

// The capped step ends inside this cell: integrate up to there, with the run length interpolated between its nodes.
function addPartOfCell(row: Float64Array, cell: Cell, end: number, toZero: number): void {
  const { nodes, weights } = cell.rule
  const half = (end - cell.from) / 2
  for (let q = 0; q < nodes.length; q++) {
    const y = cell.from + half * (1 + nodes[q]!)
    addInterpolated(row, cell, y, half * weights[q]! * normalPdf(y + toZero))
  }
}

function addLanding(mesh: CusumMesh, row: Float64Array, landing: number, probability: number): void {
  const atom = mesh.atoms.find(state => isSame(mesh.values[state]!, landing, mesh.chart.h))
  if (atom !== undefined) {
    row[atom] = row[atom]! + probability
    return
  }
  const cell = mesh.cells.find(({ to }) => landing < to) ?? mesh.cells[mesh.cells.length - 1]
  if (cell !== undefined) addInterpolated(row, cell, landing, probability)
}

// Barycentric form of Lagrange interpolation (Berrut and Trefethen 2004, SIAM Review 46:501).
function addInterpolated(row: Float64Array, cell: Cell, y: number, factor: number): void {
  const { nodes, interpolation } = cell.rule
  const t = (2 * (y - cell.from)) / (cell.to - cell.from) - 1
  let sum = 0
  for (let j = 0; j < nodes.length; j++) {
    const distance = t - nodes[j]!
    if (Math.abs(distance) < SAME) {
      row[cell.first + j] = row[cell.first + j]! + factor
      return
    }
    sum += interpolation[j]! / distance
  }
  const share = factor / sum
  for (let j = 0; j < nodes.length; j++) {
    const weight = interpolation[j]! / (t - nodes[j]!)
    row[cell.first + j] = row[cell.first + j]! + share * weight
  }
}

function isSame(a: number, b: number, scale: number): boolean {
  return Math.abs(a - b) <= SAME * scale
}
