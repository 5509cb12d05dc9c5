import { advanceCusum, deadBandIncrement } from '../statistics/cusum.js'

/**
 * One plain two-sided CUSUM of a line, in log-likelihood units: the null is |bias| ≤ delta0, the alternative
 * ≥ delta1. Three values must agree before it can signal, since one increment is capped at limit/2.5.
 */
export interface Chart {
  high: number
  low: number
  /** 0 until the first value has shown what to solve it for. */
  limit: number
  /** Values since the last restart. */
  n: number
  /** Instant of the first value above the limit on the side that signals; null while none. */
  signalSinceMs: number | null
  /** Where the side last began to rise from zero: the chart's own guess of the onset. */
  highFromMs: number | null
  lowFromMs: number | null
  peakAtMs: number | null
  /** What the limit was solved from, and the pairs a day it stands for. */
  solvedFor: string
  perDay: number
}

export const CAP_FRACTION = 0.4
/** Head start after work, share of the limit, for so many values. */
const HEAD_START = 0.15

export function newChart(): Chart {
  return {
    high: 0,
    low: 0,
    limit: 0,
    n: 0,
    signalSinceMs: null,
    highFromMs: null,
    lowFromMs: null,
    peakAtMs: null,
    solvedFor: '',
    perDay: 0,
  }
}

/** Starts afresh at accepted work, with the head start that makes a failed repair show sooner. */
export function restartChart(chart: Chart): void {
  const start = HEAD_START * chart.limit
  Object.assign(chart, {
    high: start,
    low: start,
    n: 0,
    signalSinceMs: null,
    highFromMs: null,
    lowFromMs: null,
    peakAtMs: null,
  })
}

/** Back to zero, without a head start: what it has gathered is about an error that is gone. */
export function stopChart(chart: Chart): void {
  Object.assign(chart, { high: 0, low: 0, highFromMs: null, lowFromMs: null, signalSinceMs: null })
}

export interface ChartValue {
  readonly atMs: number
  /** Tolerances. */
  readonly residual: number
  readonly u: number
  readonly delta0: number
  readonly delta1: number
}

/** Takes the next value. A chart runs on after a signal, shown up to twice its limit. */
export function advanceChart(chart: Chart, value: ChartValue): void {
  const cap = CAP_FRACTION * chart.limit
  const most = 2 * chart.limit
  const high = Math.min(
    most,
    advanceCusum(chart.high, deadBandIncrement(value.residual, value.u, value.delta0, value.delta1), cap),
  )
  const low = Math.min(
    most,
    advanceCusum(chart.low, deadBandIncrement(-value.residual, value.u, value.delta0, value.delta1), cap),
  )
  chart.highFromMs = high === 0 ? null : (chart.highFromMs ?? value.atMs)
  chart.lowFromMs = low === 0 ? null : (chart.lowFromMs ?? value.atMs)
  if (Math.max(high, low) > Math.max(chart.high, chart.low)) chart.peakAtMs = value.atMs
  chart.high = high
  chart.low = low
  chart.n += 1
  if (high > chart.limit || low > chart.limit) chart.signalSinceMs ??= value.atMs
  else chart.signalSinceMs = null
}

/** Statistic of the leading side as a share of the limit. */
export function chartShare(chart: Chart): number {
  return chart.limit > 0 ? Math.max(chart.high, chart.low) / chart.limit : 0
}

export function leadingSide(chart: Chart): 'high' | 'low' {
  return chart.low > chart.high ? 'low' : 'high'
}
