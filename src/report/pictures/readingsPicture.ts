import type { EChartsOption, LineSeriesOption, ScatterSeriesOption } from 'echarts'
import type { Explanation } from '../../core/explanation.js'
import { MINUTE_MS, sayDay } from '../../model/time.js'
import { sayNumber } from '../say.js'
import { axes, roundStep, type Span, spanOf } from './axes.js'
import { backgroundLegend, backgroundMarks, errorBars } from './marks.js'
import { BLUE, type Dash, drawBoth, GREEN, GREY, INK, type LegendEntry, type Picture, VERMILION } from './picture.js'
import type { PictureSize } from './pictureSize.js'
import { thin } from './thin.js'

type Block = Explanation['blocks'][number]

interface Shown {
  readonly span: Span
  /** The value axis: a ripening filter or one bubble must not press everything else flat. */
  readonly lowestNtu: number
  readonly highestNtu: number
  readonly stepNtu: number
  /** What the note under the picture says of the blocks above it. */
  readonly beyond: string
}

const COMPANION_LINES: readonly { readonly color: string; readonly dash: Dash }[] = [
  { color: VERMILION, dash: 'dashed' },
  { color: GREEN, dash: 'dotted' },
]

/** The share of points that may lie above the picture, where these are so many times as high as all others. */
const SHARE_ABOVE = 0.05
const FAR_ABOVE = 2

/** Least height of the value axis: what reads zero throughout still has one. */
const LEAST_NTU = 0.01

/** Longest step between two blocks that are still joined by a line. */
const JOINED_MS = 20 * MINUTE_MS

/** Blocks of the analyzer and its companions with the grab samples, in NTU. Undefined where nothing is held. */
export function readingsPicture(explanation: Explanation): Picture | undefined {
  const { blocks, analyzer, companions } = explanation
  if (blocks.length === 0) return undefined
  const shown = whatIsShown(explanation)
  const usable = blocks.filter(block => block.usable).map(block => block.medianNtu)
  const range =
    usable.length === 0
      ? 'no usable block'
      : `usable blocks from ${sayNumber(Math.min(...usable))} to ${sayNumber(Math.max(...usable))} NTU`
  const label =
    `Readings of ${[analyzer, ...companions.map(companion => companion.analyzer)].join(', ')} with grab samples, ` +
    `${sayDay(shown.span.fromMs)} to ${sayDay(shown.span.toMs)}: ${analyzer} has ${range}.`
  return {
    title: 'Readings and grab samples',
    caption:
      'Each point of a line is the median of 15 minutes. Bars on grab samples are twice their standard uncertainty. ' +
      shown.beyond,
    legend: legend(explanation, shown.span),
    svg: drawBoth('readings', label, size => option(explanation, shown, size)),
  }
}

function whatIsShown({ blocks, companions, grabs, atMs }: Explanation): Shown {
  const companionBlocks = companions.flatMap(companion => companion.blocks)
  const span = spanOf(
    [...blocks, ...companionBlocks].map(block => block.endMs),
    atMs,
  )
  const medians = [...blocks, ...companionBlocks].filter(block => block.usable).map(block => block.medianNtu)
  const used = grabs.filter(grab => isUsed(grab.use) && grab.atMs >= span.fromMs)
  const ends = used.map(grab => grab.grabNtu + 2 * grab.uNtu)
  const wanted = Math.max(highestOf([...bulkOf(medians), ...ends]), LEAST_NTU)
  const lowest = -highestOf([...medians, ...used.map(grab => grab.grabNtu)].map(value => -value))
  const stepNtu = roundStep(wanted)
  const highestNtu = stepNtu * Math.ceil((1.05 * wanted) / stepNtu)
  const lowestNtu = lowest < 0 ? stepNtu * Math.floor(Math.max(lowest, -highestNtu) / stepNtu) : 0
  return { span, lowestNtu, highestNtu, stepNtu, beyond: sayBeyond(blocks, highestNtu) }
}

/** All values, or without the highest few where these stand far above the rest. */
function bulkOf(values: readonly number[]): readonly number[] {
  const sorted = [...values].sort((a, b) => a - b)
  const bulk = sorted.slice(0, Math.ceil((1 - SHARE_ABOVE) * sorted.length))
  return highestOf(sorted) > FAR_ABOVE * highestOf(bulk) ? bulk : sorted
}

function sayBeyond(blocks: readonly Block[], highestNtu: number): string {
  const above = blocks.map(block => block.medianNtu).filter(medianNtu => medianNtu > highestNtu)
  if (above.length === 0) return ''
  return `${String(above.length)} of ${String(blocks.length)} points lie above the picture, the highest at ${sayNumber(highestOf(above))} NTU.`
}

function highestOf(values: readonly number[]): number {
  return values.reduce((most, value) => Math.max(most, value), -Infinity)
}

function option(explanation: Explanation, shown: Shown, size: PictureSize): EChartsOption {
  const { span, lowestNtu, highestNtu, stepNtu } = shown
  const { analyzer, blocks, companions } = explanation
  const grabs = explanation.grabs.filter(grab => grab.atMs >= span.fromMs && grab.atMs <= span.toMs)
  const used = grabs.filter(grab => isUsed(grab.use))
  const unused = grabs.filter(grab => !isUsed(grab.use))
  const inside = (ntu: number) => Math.max(lowestNtu, Math.min(ntu, highestNtu))
  return {
    ...axes(size, span, 'NTU', { min: lowestNtu, max: highestNtu, interval: stepNtu }),
    series: [
      backgroundMarks(explanation, span, size),
      ...companions.map((companion, index) =>
        blockLine(companion.analyzer, companion.blocks, companionLine(index), size),
      ),
      blockLine(analyzer, blocks, { color: BLUE, dash: 'solid' }, size),
      ...companions.map((companion, index) => leftOut(companion.blocks, companionLine(index).color, inside, size)),
      leftOut(blocks, GREY, inside, size),
      errorBars(
        used.map(({ atMs, grabNtu, uNtu }) => [atMs, inside(grabNtu - 2 * uNtu), inside(grabNtu + 2 * uNtu)]),
        INK,
      ),
      scatter(
        used.map(({ atMs, grabNtu }) => [atMs, grabNtu]),
        { symbol: 'diamond', symbolSize: 10, color: INK, filled: true },
      ),
      scatter(
        unused.map(({ atMs, grabNtu }) => [atMs, inside(grabNtu)]),
        { symbol: 'diamond', symbolSize: 10, color: INK, filled: false },
      ),
    ],
  }
}

/** Blocks that do not count, each as a mark off the line. */
function leftOut(
  blocks: readonly Block[],
  color: string,
  inside: (ntu: number) => number,
  size: PictureSize,
): ScatterSeriesOption {
  const unused = thin(
    blocks.filter(block => !block.usable),
    block => block.medianNtu,
    size.width / 4,
  )
  return scatter(
    unused.map(({ endMs, medianNtu }) => [endMs, inside(medianNtu)]),
    { symbol: 'triangle', symbolSize: 6, color, filled: false },
  )
}

/** The line runs through the blocks that count. */
function blockLine(
  name: string,
  all: readonly Block[],
  { color, dash }: { readonly color: string; readonly dash: Dash },
  size: PictureSize,
): LineSeriesOption {
  const blocks = all.filter(block => block.usable)
  const runs = joinedRuns(blocks)
  return {
    type: 'line',
    silent: true,
    showSymbol: false,
    lineStyle: { color, width: dash === 'solid' ? 2 : 1.5, type: dash },
    itemStyle: { color },
    data: runs.flatMap(run => [
      ...thin(
        run,
        block => block.medianNtu,
        Math.max(2, Math.round((size.width / 2) * (run.length / blocks.length))),
      ).map(({ endMs, medianNtu }) => [endMs, medianNtu]),
      // A missing value breaks the line.
      ...(run === runs.at(-1) ? [] : [[run.at(-1)!.endMs + 1, null] as unknown as number[]]),
    ]),
    endLabel: {
      show: size.kind === 'wide',
      formatter: () => name,
      color,
      fontSize: size.fontSize,
      width: 84,
      overflow: 'truncate',
    },
    labelLayout: { moveOverlap: 'shiftY' },
  }
}

/** Blocks in runs without a gap. */
function joinedRuns(blocks: readonly Block[]): readonly (readonly Block[])[] {
  const runs: Block[][] = []
  let lastMs = -Infinity
  for (const block of blocks) {
    if (block.endMs - lastMs > JOINED_MS) runs.push([])
    runs.at(-1)!.push(block)
    lastMs = block.endMs
  }
  return runs
}

function scatter(
  data: readonly (readonly [number, number])[],
  style: {
    readonly symbol: string
    readonly symbolSize: number
    readonly color: string
    readonly filled: boolean
  },
): ScatterSeriesOption {
  return {
    type: 'scatter',
    silent: true,
    z: 4,
    symbol: style.symbol,
    symbolSize: style.symbolSize,
    itemStyle: { color: style.filled ? style.color : '#fff', borderColor: style.color, borderWidth: 1.2 },
    data: data.map(point => [...point]),
  }
}

function legend(explanation: Explanation, span: Span): readonly LegendEntry[] {
  const { analyzer, blocks, companions, grabs } = explanation
  return [
    { mark: { kind: 'line', color: BLUE, dash: 'solid' }, text: analyzer },
    ...companions.map((companion, index) => ({
      mark: { kind: 'line' as const, ...companionLine(index) },
      text: companion.analyzer,
    })),
    ...leftOutLegend(analyzer, blocks, GREY),
    ...companions.flatMap((companion, index) =>
      leftOutLegend(companion.analyzer, companion.blocks, companionLine(index).color),
    ),
    ...(grabs.length === 0
      ? []
      : [{ mark: { kind: 'symbol', color: INK, symbol: 'diamond', filled: true }, text: 'grab sample' } as const]),
    ...(grabs.every(grab => isUsed(grab.use))
      ? []
      : [{ mark: { kind: 'symbol', color: INK, symbol: 'diamond', filled: false }, text: 'grab left out' } as const]),
    ...backgroundLegend(explanation, span),
  ]
}

function leftOutLegend(name: string, blocks: readonly Block[], color: string): readonly LegendEntry[] {
  if (blocks.every(block => block.usable)) return []
  return [{ mark: { kind: 'symbol', color, symbol: 'triangle', filled: false }, text: `block of ${name} left out` }]
}

function companionLine(index: number): { readonly color: string; readonly dash: Dash } {
  return COMPANION_LINES[index % COMPANION_LINES.length]!
}

function isUsed(use: string): boolean {
  return use === 'used'
}
