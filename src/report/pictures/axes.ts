import type { EChartsOption } from 'echarts'
import type { Explanation, LineRow, LineView } from '../../core/explanation.js'
import { DAY_MS, sayDay } from '../../model/time.js'
import { GREY, INK } from './picture.js'
import type { PictureSize } from './pictureSize.js'

export interface Span {
  readonly fromMs: number
  readonly toMs: number
}

export function spanOf(instants: readonly number[], toMs: number): Span {
  const fromMs = instants.reduce((earliest, atMs) => Math.min(earliest, atMs), toMs)
  // A little room, so that the first mark does not stand on the axis.
  return { fromMs: fromMs === toMs ? toMs - DAY_MS : fromMs - Math.round((toMs - fromMs) / 80), toMs }
}

/** Differences and charts reach no further back than this; older values would press the recent ones together. */
const LONGEST_MS = 56 * DAY_MS

/** One span for all that is compared, so that the pictures stand exactly one above the other. */
export function spanOfLines({ blocks, lines, atMs }: Explanation): Span {
  const instants = [...blocks.map(block => block.endMs), ...lines.flatMap(({ rows }) => rows.map(row => row.atMs))]
  return spanOf(
    instants.filter(instant => instant >= atMs - LONGEST_MS),
    atMs,
  )
}

/** Rows of a line that a picture covers. */
export function rowsWithin({ rows }: Pick<LineView, 'rows'>, { fromMs, toMs }: Span): readonly LineRow[] {
  return rows.filter(({ atMs }) => atMs >= fromMs && atMs <= toMs)
}

/** Grid, time axis in UTC and value axis, alike in all pictures so that they can be read one above the other. */
export function axes(size: PictureSize, span: Span, valueName: string, value: object = {}): EChartsOption {
  const wide = size.kind === 'wide'
  const text = { color: INK, fontSize: size.fontSize, fontFamily: 'sans-serif' }
  const days = (span.toMs - span.fromMs) / DAY_MS
  return {
    textStyle: text,
    grid: { left: 58, right: wide ? 96 : 12, top: 40, bottom: 30 },
    xAxis: {
      type: 'time',
      min: span.fromMs,
      max: span.toMs,
      splitNumber: wide ? 8 : 3,
      ...(days >= 3 ? { minInterval: DAY_MS } : {}),
      axisLabel: { ...text, hideOverlap: true, showMinLabel: false, showMaxLabel: false, formatter: sayTick },
      axisLine: { onZero: false, lineStyle: { color: GREY } },
      splitLine: { show: false },
    },
    yAxis: {
      type: 'value',
      name: valueName,
      nameTextStyle: { ...text, align: 'left', padding: [0, 0, 4, -48] },
      axisLabel: { ...text, formatter: sayValue },
      axisLine: { show: true, onZero: false, lineStyle: { color: GREY } },
      splitLine: { lineStyle: { color: '#EDEDED' } },
      splitNumber: 4,
      ...value,
    },
  }
}

/** Distance of grid lines: 1, 2 or 5 times a power of ten, 0.001 at least, so that 2 to 5 of them reach `highest` from zero. */
export function roundStep(highest: number): number {
  if (!Number.isFinite(highest)) throw new RangeError(`highest must be finite, got ${String(highest)}`)
  for (let power = 0.001; ; power *= 10) {
    const step = [power, 2 * power, 5 * power].find(size => size * 5 >= highest)
    if (step !== undefined) return Number(step.toPrecision(1))
  }
}

function sayValue(value: number): string {
  return String(value).replace('-', '−')
}

/** "9 May" at midnight, "06:00" between. */
function sayTick(atMs: number): string {
  return atMs % DAY_MS === 0 ? sayDay(atMs).replace(/ \d+$/, '') : new Date(atMs).toISOString().slice(11, 16)
}
