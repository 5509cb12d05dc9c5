import type { EChartsOption } from 'echarts'
import { NARROW, type PictureSize, WIDE } from './pictureSize.js'
import { renderSvg } from './renderSvg.js'

/** Colours that stay apart for colour-blind readers (Okabe and Ito 2008); each also has its own line or mark. */
export const INK = '#1a1a1a'
export const GREY = '#6b6b6b'
export const BLUE = '#0072B2'
export const VERMILION = '#D55E00'
export const GREEN = '#009E73'
export const PURPLE = '#994F88'
export const BAND = '#E3E3E3'
export const ONSET_FILL = '#FBE7C6'

export type Dash = 'solid' | 'dashed' | 'dotted'
export type Symbol = 'circle' | 'diamond' | 'triangle' | 'rect'

export type Mark =
  | { readonly kind: 'line'; readonly color: string; readonly dash: Dash }
  | { readonly kind: 'symbol'; readonly color: string; readonly symbol: Symbol; readonly filled: boolean }
  | { readonly kind: 'area'; readonly color: string }

export interface LegendEntry {
  readonly mark: Mark
  readonly text: string
}

export interface Picture {
  readonly title: string
  /** What the picture shows and how to read it; stands under it. */
  readonly caption: string
  readonly legend: readonly LegendEntry[]
  /** The drawing for a desk and for a telephone. */
  readonly svg: string
}

/** Draws both sizes. @param id unique in the page, letters and digits */
export function drawBoth(id: string, label: string, option: (size: PictureSize) => EChartsOption): string {
  return renderSvg(`${id}w`, label, WIDE, option(WIDE)) + renderSvg(`${id}n`, label, NARROW, option(NARROW))
}
