import type { Tolerance } from '../model/tolerance.js'

/** The invented plant as it is built: what the register declares, and what only nature knows (base levels, delays). */
export interface SitePoint {
  readonly id: string
  readonly name: string
  readonly area: string
  readonly class: 'raw' | 'settled' | 'filter' | 'waste'
  /** Usual level, NTU; each run draws its own near it. */
  readonly usualNtu: number
  readonly grabs: GrabHabit | undefined
  readonly analyzers: readonly SiteAnalyzer[]
}

export type GrabHabit =
  | { readonly perDay: number; readonly everyH: readonly [number, number] }
  | { readonly perDay: number; readonly roundsAtH: readonly number[] }

export interface SiteAnalyzer {
  readonly id: string
  readonly serial: string
  readonly transportDelayS: number
  readonly sampleLine: string
  readonly standard: { readonly id: string; readonly assignedNtu: number }
  readonly reports?: 'flow' | 'light'
}

export interface LaboratoryClass {
  readonly standardUncertaintyNtu: number
  readonly relative: number
  readonly sharedStandardUncertaintyNtu: number
  /** Results are rounded to whole multiples of 1/perNtu. */
  readonly perNtu: number
}

export interface SiteClass {
  readonly tolerance: Tolerance
  readonly rangeNtu: readonly [number, number]
  /** Readings are rounded to whole multiples of 1/perNtu. */
  readonly perNtu: number
  readonly laboratory: LaboratoryClass
}

export const PLANT_ID = 'hollin-weir'
export const PLANT_NAME = 'Hollin Weir Water Works'
export const LABORATORY_INSTRUMENT = 'BENCH-1'
export const INTERVAL_S = 300
export const ACTION_LEVEL_NTU = 0.3
/** Results below this are reported as "<0.02". */
export const REPORTING_LIMIT_NTU = 0.02
export const GRAB_TIME_UNCERTAINTY_S = 120
export const FILTERS = ['FE1', 'FE2', 'FE3', 'FE4', 'FE5', 'FE6'] as const
export const PRIMARY_STANDARD = { id: 'P-0020', assignedNtu: 20, lot: 'F26-03', standardUncertaintyNtu: 0.2 } as const

const CLEAN: LaboratoryClass = {
  standardUncertaintyNtu: 0.01,
  relative: 0.03,
  sharedStandardUncertaintyNtu: 0.01,
  perNtu: 200,
}

export const CLASSES: Readonly<Record<SitePoint['class'], SiteClass>> = {
  raw: {
    tolerance: { absoluteNtu: 1, relative: 0.1 },
    rangeNtu: [0, 1_000],
    perNtu: 10,
    laboratory: { standardUncertaintyNtu: 0.3, relative: 0.03, sharedStandardUncertaintyNtu: 0.1, perNtu: 10 },
  },
  settled: {
    tolerance: { absoluteNtu: 0.1, relative: 0.1 },
    rangeNtu: [0, 20],
    perNtu: 100,
    laboratory: { standardUncertaintyNtu: 0.02, relative: 0.02, sharedStandardUncertaintyNtu: 0.02, perNtu: 100 },
  },
  filter: { tolerance: { absoluteNtu: 0.05, relative: 0.1 }, rangeNtu: [0, 10], perNtu: 1_000, laboratory: CLEAN },
  waste: { tolerance: { absoluteNtu: 2, relative: 0.1 }, rangeNtu: [0, 1_000], perNtu: 10, laboratory: CLEAN },
}

export const POINTS: readonly SitePoint[] = [
  point('RW', 'Raw water intake', 'Intake', 'raw', 22, { perDay: 1, roundsAtH: [8.0] }, [
    unit('RW-A', 'A-2201', 30, 'R1', 'D-1014', 36.2, 'light'),
    unit('RW-B', 'A-2202', 45, 'R2', 'D-1015', 35.1, 'light'),
  ]),
  point('SW', 'Settled water, first train', 'Clarifiers', 'settled', 1.4, { perDay: 2, roundsAtH: [7.5, 19.5] }, [
    unit('SW-A', 'A-2203', 60, 'S1', 'D-1012', 34.9, 'light'),
  ]),
  point('CW', 'Clarified water, second train', 'Clarifiers', 'settled', 1.15, { perDay: 2, roundsAtH: [7.8, 19.8] }, [
    unit('CW-A', 'A-2204', 60, 'S2', 'D-1013', 34.8),
  ]),
  filter('FE1', 0.031, 8.3, [unit('FE1-A', 'A-2210', 50, 'F1', 'D-1004', 33.6)]),
  filter('FE2', 0.055, 8.5, [unit('FE2-A', 'A-2211', 50, 'F2', 'D-1005', 34.4)]),
  point('FE3', 'Filter 3 effluent', 'Filter hall', 'filter', 0.075, { perDay: 2, roundsAtH: [8.7, 20.7] }, [
    unit('FE3-A', 'A-2212', 50, 'F3', 'D-1006', 35.3),
    unit('FE3-B', 'A-2213', 70, 'F3b', 'D-1007', 33.9),
  ]),
  filter('FE4', 0.065, 8.9, [unit('FE4-A', 'A-2214', 50, 'F4', 'D-1008', 34.7)]),
  filter('FE5', 0.06, 9.1, [unit('FE5-A', 'A-2215', 50, 'F5', 'D-1009', 36.0, 'flow')]),
  filter('FE6', 0.055, 9.3, [unit('FE6-A', 'A-2216', 50, 'F6', 'D-1010', 35.8)]),
  point('CFE', 'Combined filter effluent', 'North gallery', 'filter', 0.06, { perDay: 4, everyH: [4, 8] }, [
    unit('CFE-A', 'A-2207', 40, 'N1', 'D-1001', 34.2, 'flow'),
    unit('CFE-B', 'A-2208', 40, 'N2', 'D-1002', 35.0),
    unit('CFE-C', 'A-2209', 65, 'N3', 'D-1003', 33.7),
  ]),
  point('BW', 'Backwash waste', 'Filter hall', 'waste', 6, undefined, [
    unit('BW-A', 'A-2217', 20, 'W1', 'D-1016', 37.4),
  ]),
]

/** The class of a point or of an analyzer's point. */
export function classOf(id: string): SiteClass {
  return CLASSES[pointOf(id).class]
}

/** The point with this id, or the one the analyzer with this id stands at. */
export function pointOf(id: string): SitePoint {
  const found = POINTS.find(candidate => candidate.id === id || candidate.analyzers.some(each => each.id === id))
  if (found === undefined) throw new RangeError(`${id} is neither a point nor an analyzer of the invented plant`)
  return found
}

export function analyzerOf(id: string): SiteAnalyzer {
  const found = pointOf(id).analyzers.find(candidate => candidate.id === id)
  if (found === undefined) throw new RangeError(`${id} is no analyzer of the invented plant`)
  return found
}

function point(
  id: string,
  name: string,
  area: string,
  siteClass: SitePoint['class'],
  usualNtu: number,
  grabs: GrabHabit | undefined,
  analyzers: readonly SiteAnalyzer[],
): SitePoint {
  return { id, name, area, class: siteClass, usualNtu, grabs, analyzers }
}

function filter(id: string, usualNtu: number, roundAtH: number, analyzers: readonly SiteAnalyzer[]): SitePoint {
  return point(
    id,
    `Filter ${id.slice(2)} effluent`,
    'Filter hall',
    'filter',
    usualNtu,
    { perDay: 1, roundsAtH: [roundAtH] },
    analyzers,
  )
}

function unit(
  id: string,
  serial: string,
  transportDelayS: number,
  sampleLine: string,
  standardId: string,
  assignedNtu: number,
  reports?: 'flow' | 'light',
): SiteAnalyzer {
  const base = { id, serial, transportDelayS, sampleLine, standard: { id: standardId, assignedNtu } }
  return reports === undefined ? base : { ...base, reports }
}
