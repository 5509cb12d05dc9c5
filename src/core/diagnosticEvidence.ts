import type { SignKind } from '../diagnose/signs/sign.js'
import type { EvidenceData } from '../model/events.js'
import { weighSign } from '../recommend/weighSigns.js'
import type { PointContext } from './context.js'
import type { PointState } from './pointState.js'
import { signsOf } from './signsOf.js'

/** What an analyzer tells of itself, apart from comparisons with anything else. */
const DIAGNOSTICS: readonly SignKind[] = ['light_source', 'noisy', 'washed_off', 'dark_response']

/** Said in words; all of them are counted. */
const MOST_SAID = 3

/** Diagnostics that stand out. They name causes, have no chart and open nothing. */
export function diagnosticEvidence(context: PointContext, state: PointState, i: number): EvidenceData[] {
  const unit = state.fold.units[i]
  if (unit === undefined) return []
  const signs = signsOf(context, state, unit, i, unit.lastUsableMs ?? 0).filter(({ kind }) =>
    DIAGNOSTICS.includes(kind),
  )
  if (signs.length === 0) return []
  return [
    {
      line: 'diagnostics',
      against: 'its own habit',
      n: signs.length,
      says: signs
        .slice(0, MOST_SAID)
        .map(sign => weighSign(sign).text)
        .join('; '),
      excluded: {},
      points: [],
    },
  ]
}
