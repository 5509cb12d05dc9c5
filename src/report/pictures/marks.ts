import type { CustomSeriesOption, LineSeriesOption } from 'echarts'
import type { Explanation } from '../../core/explanation.js'
import { onsetOf } from '../bias.js'
import type { Span } from './axes.js'
import { INK, type LegendEntry, ONSET_FILL, PURPLE } from './picture.js'
import type { PictureSize } from './pictureSize.js'

/** Work records and the onset interval, drawn behind everything else. */
export function backgroundMarks(explanation: Explanation, span: Span, size: PictureSize): LineSeriesOption {
  const onset = onsetWithin(explanation, span)
  return {
    type: 'line',
    data: [],
    silent: true,
    markArea: {
      silent: true,
      itemStyle: { color: ONSET_FILL },
      data: onset === undefined ? [] : [[{ xAxis: onset.fromMs }, { xAxis: onset.toMs }]],
    },
    markLine: {
      silent: true,
      symbol: 'none',
      lineStyle: { color: PURPLE, type: [2, 3], width: 1.5 },
      label: { color: INK, fontSize: size.fontSize, formatter: ({ name }) => name },
      data: explanation.work.flatMap(({ atMs }, index) =>
        isWithin(atMs, span) ? [{ xAxis: atMs, name: workLabel(index) }] : [],
      ),
    },
  }
}

export function backgroundLegend(explanation: Explanation, span: Span): readonly LegendEntry[] {
  return [
    ...(onsetWithin(explanation, span) === undefined
      ? []
      : [{ mark: { kind: 'area', color: ONSET_FILL }, text: 'onset interval' } as const]),
    ...(explanation.work.some(({ atMs }) => isWithin(atMs, span))
      ? [{ mark: { kind: 'line', color: PURPLE, dash: 'dotted' }, text: 'W1, W2 …: work, listed below' } as const]
      : []),
  ]
}

/** W1, W2 …: the key between pictures and the list of work. */
export function workLabel(index: number): string {
  return `W${String(index + 1)}`
}

/** Vertical bars with caps. Rows are [time, lower, upper]. */
export function errorBars(rows: readonly (readonly [number, number, number])[], color: string): CustomSeriesOption {
  return {
    type: 'custom',
    silent: true,
    z: 3,
    data: rows.map(row => [...row]),
    clip: true,
    // The value axis reaches both ends of a bar.
    encode: { x: 0, y: [1, 2] },
    renderItem: (_parameters, api) => {
      const lower = api.coord([api.value(0), api.value(1)])
      const upper = api.coord([api.value(0), api.value(2)])
      const x = lower[0]!
      const bar = (x1: number, y1: number, x2: number, y2: number) =>
        ({ type: 'line', shape: { x1, y1, x2, y2 }, style: { stroke: color, lineWidth: 1.2 } }) as const
      return {
        type: 'group',
        children: [
          bar(x, lower[1]!, x, upper[1]!),
          bar(x - 3, lower[1]!, x + 3, lower[1]!),
          bar(x - 3, upper[1]!, x + 3, upper[1]!),
        ],
      }
    },
  }
}

function isWithin(atMs: number, { fromMs, toMs }: Span): boolean {
  return atMs >= fromMs && atMs <= toMs
}

/** The part of the onset interval that the picture covers. */
function onsetWithin(explanation: Explanation, span: Span): Span | undefined {
  const onset = onsetOf(explanation)
  if (onset === undefined) return undefined
  const fromMs = Math.max(span.fromMs, onset.earliestMs ?? span.fromMs)
  const toMs = Math.min(span.toMs, onset.latestMs)
  return fromMs < toMs ? { fromMs, toMs } : undefined
}
