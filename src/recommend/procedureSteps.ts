import type { Analyzer, RegisteredStandard } from '../model/plant.js'
import { roundTo } from '../model/rounding.js'
import type { Cause } from '../model/vocabulary.js'
import { sayNtu } from './summary.js'

/** Before anything is opened. Common practice, no source. */
export const BEGIN = [
  'Tell the control room; hold outputs by site procedure; set maintenance on.',
  'Take a grab sample at the point and note the time to the minute.',
  'Read as found, untouched, and write it down: after cleaning the evidence is gone.',
] as const

export const CLEAN = 'Clean the window and the cell; read again.'

export const AS_LEFT =
  'Wait until bubbles are out, keep ambient light out (cover closed), accept only a steady reading; write down as left.'

export const ASSIGN_ANEW =
  'Assign the secondary standard anew, right away, on this analyzer, and hand in its value with lot and expiry.'

/** After the work, in the process water again. Common practice, no source. */
export const END = [
  'Open the sample again, close the cover against light, and wait until bubbles are out and the process reading is steady.',
  'Return to service: set maintenance off; tell the control room; release the outputs by site procedure.',
  'Take a second grab sample: it proves the work.',
] as const

/** What is in its limit is left alone: an adjustment without need adds its own error. */
export function onlyIfOutside({ asLeftLimit }: Analyzer): string {
  return `Adjust only what reads outside its limit on its reference (${String(roundTo(100 * asLeftLimit, 1))} % on a standard); what is inside is left as it is and written down so.`
}

export function zeroStep(method: 'zero_water' | 'source_off', water: RegisteredStandard | undefined): string {
  if (method === 'source_off') return 'Set zero with the source off (dark response); this will do at this level.'
  const named = water === undefined ? '' : `: ${sayReference(water)}`
  return `Set zero on zero water, source on${named}. Zero water is filtered to 0.2 µm or finer and itself reads about 0.01 to 0.03 NTU: prove it first.`
}

export function spanStep(analyzer: Analyzer, standard: RegisteredStandard | undefined): string {
  return standard === undefined
    ? `Set span on a secondary standard assigned on ${analyzer.id} (none is in the register), after zero.`
    : `Set span on ${sayReference(standard)}, the standard assigned on ${analyzer.id}, after zero; no other analyzer’s standard will do.`
}

export function readStandardStep(analyzer: Analyzer, standard: RegisteredStandard | undefined): string {
  const named = standard === undefined ? `assigned on ${analyzer.id}` : sayReference(standard)
  return `Read the standard ${named}; do not adjust.`
}

export function readZeroStep(method: 'zero_water' | 'source_off', water: RegisteredStandard | undefined): string {
  if (method === 'source_off') return 'Read with the source off (dark response); do not adjust.'
  const named = water === undefined ? '' : ` (${sayReference(water)})`
  return `Read zero water${named}, source on, proven first: it is not quite zero itself; do not adjust.`
}

const INSPECTION = {
  light: 'Shut the cover, or lay a dark cloth over the cell, and watch the reading: if it falls, light gets in.',
  water: 'Look for fog and drops on the optics and inside the cell before wiping anything; dry them.',
  seals:
    'Check seals, cable gland, drying agent and vent; see that the cold sample does not meet damp air at the optics.',
  source: 'Look at the light source, its level and its age; the windows; the cell; water or dirt inside.',
  renew: 'Renew the light source by the maker’s procedure where its level has fallen.',
  after: 'A new light source calls for a primary calibration; afterwards assign the secondary standard anew.',
} as const

/** What to look at, the likeliest first. Nothing is adjusted. Common practice, no source. */
export function inspectionSteps(cause: Cause): readonly string[] {
  const { light, water, seals, source, renew, after } = INSPECTION
  if (cause === 'stray_light')
    return [light, 'Find what let it in: cover, shade, a lamp or window above; put it right.', source]
  if (cause === 'condensation')
    return [water, seals, source, 'Do not zero while it is wet: it would be wrong when dry.']
  return [source, renew, after]
}

export function primaryStep(standard: RegisteredStandard | undefined): string {
  const named = standard === undefined ? '' : `: ${sayReference(standard)}`
  return `Calibrate on a primary standard in date, by the maker’s procedure${named}.`
}

/** "D-1001 (34.2 NTU, lot L-7, expires 2026-08-01)": what stands on its label, or that it has to be read there. */
function sayReference({ id, assignedNtu, lot, expires }: RegisteredStandard): string {
  const label = [
    `${sayNtu(assignedNtu)} NTU`,
    lot === undefined ? 'lot: see its label' : `lot ${lot}`,
    expires === undefined ? 'expiry: see its label' : `expires ${expires}`,
  ]
  return `${id} (${label.join(', ')})`
}
