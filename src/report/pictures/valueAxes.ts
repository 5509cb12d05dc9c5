import type { EChartsOption, LineSeriesOption } from 'echarts'
import { roundStep } from './axes.js'
import { type Dash, GREY, INK } from './picture.js'
import type { PictureSize } from './pictureSize.js'

/** Ends of an axis on grid lines, and their distance. */
export interface Scale {
  readonly min: number
  readonly max: number
  readonly interval: number
}

/** Values from this share of the highest up are drawn without the zero far below them. */
const FAR_FROM_ZERO = 0.5

/** A scale that holds all values, and zero where that is not far below them. */
export function scaleOf(values: readonly number[]): Scale {
  const highest = values.reduce((most, value) => Math.max(most, value), 0)
  const lowest = values.reduce((least, value) => Math.min(least, value), Infinity)
  const from = lowest > FAR_FROM_ZERO * highest ? lowest : Math.min(0, lowest)
  const interval = roundStep(highest - from)
  // The product of whole steps may show 0.30000000000000004.
  const onGrid = (steps: number) => Number((steps * interval).toPrecision(12))
  const first = Math.floor(from / interval)
  return { min: onGrid(first), max: onGrid(Math.max(first + 1, Math.ceil(highest / interval))), interval }
}

/** Axes for one quantity over another: the names stand at the top of the vertical and under the horizontal axis. */
export function valueAxes(
  size: PictureSize,
  x: Scale & { readonly name: string },
  y: Scale & { readonly name: string },
): EChartsOption {
  const text = { color: INK, fontSize: size.fontSize, fontFamily: 'sans-serif' }
  const common = {
    type: 'value',
    axisLabel: { ...text, hideOverlap: true, formatter: (value: number) => String(value).replace('-', '−') },
    axisLine: { show: true, onZero: false, lineStyle: { color: GREY } },
    splitLine: { lineStyle: { color: '#EDEDED' } },
  } as const
  return {
    textStyle: text,
    grid: { left: 58, right: 16, top: 40, bottom: 52 },
    xAxis: { ...common, ...x, nameLocation: 'middle', nameGap: 30, nameTextStyle: text },
    yAxis: { ...common, ...y, nameTextStyle: { ...text, align: 'left', padding: [0, 0, 4, -48] } },
  }
}

/** A line through points. */
export function plainLine(
  data: readonly (readonly [number, number])[],
  { color, dash, width }: { readonly color: string; readonly dash: Dash; readonly width: number },
): LineSeriesOption {
  return {
    type: 'line',
    silent: true,
    showSymbol: false,
    clip: true,
    lineStyle: { color, type: dash, width },
    data: data.map(point => [...point]),
  }
}
