import type { Sign } from '../diagnose/signs/sign.js'
import { roundTo } from '../model/rounding.js'
import { sayDay, sayInstant } from '../model/time.js'
import type { NamedCause } from './nextTest.js'
import { listWords, sayNtu } from './summary.js'

/** What a sign says of causes: one it speaks for, with its odds against all that the evidence of values knows, and why. */
export interface WeighedSign {
  readonly cause: NamedCause
  /** 0 where the sign is told only: what it says is in the evidence already, or too little. */
  readonly odds: number
  readonly text: string
}

/** Noise that has grown by this says water or dirt on the optics rather than a film that only dims them. */
const NOISY = 1.4

/** Odds are judgement, made so that a clear sign passes nine to one and a weak one does not (common practice, no source). */
export function weighSign(sign: Sign): WeighedSign {
  switch (sign.kind) {
    case 'light_source':
      // How much it speaks for ageing depends on how much gain is lost: see `rankCauses`.
      return {
        cause: 'source_ageing',
        odds: 0,
        text: `the light source has lost ${String(Math.round(sign.lossPct))} % of its level`,
      }
    case 'noisy':
      return {
        cause: 'fouling',
        odds: 0,
        text: `its noise is ${String(roundTo(sign.ratio, 1))} times its habit, which a drift does not make`,
      }
    case 'washed_off':
      return {
        cause: 'fouling',
        odds: 3,
        text: `the error fell by up to ${sayNtu(sign.dropNtu)} NTU at ${String(sign.times)} ${sign.times === 1 ? 'backwash' : 'backwashes'}: something was washed off, which a drift would not notice`,
      }
    case 'exact_factor':
      return {
        cause: 'signal_path',
        odds: sign.borneOut ? 30 : 4,
        text: `its values went at once from ${sayNtu(sign.beforeNtu)} to ${sayNtu(sign.afterNtu)} NTU, ${sayFactor(sign.factor)}, on ${sayInstant(sign.sinceMs)}, noise alike, with no work on record: scaling or range in the signal path`,
      }
    case 'display_differs':
      return {
        cause: 'signal_path',
        odds: 100,
        text: `on ${sayInstant(sign.atMs)} its display showed ${sayNtu(sign.displayedNtu)} NTU where ${sayNtu(sign.recordedNtu)} NTU was recorded`,
      }
    case 'daylight':
      return {
        cause: 'stray_light',
        odds: sign.visitMs === null ? 3 : 20,
        text: `beside the other units it reads ${sayNtu(sign.dayNtu)} NTU by day and ${sayNtu(sign.nightNtu)} NTU by night, on each of ${String(sign.days)} days${sign.visitMs === null ? '' : ` since the visit of ${sayDay(sign.visitMs)}`}: light falls in`,
      }
    case 'returns_after_cleaning': {
      const isNoisy = sign.noiseRatio !== null && sign.noiseRatio >= NOISY
      const isAgain = sign.cleaningsMs.length > 1
      const noise = isNoisy ? `, with ${String(roundTo(sign.noiseRatio, 1))} times the noise` : ''
      return {
        cause: 'condensation',
        odds: !isAgain ? 1.5 : isNoisy ? 12 : 4,
        text: `cleaned on ${listWords(sign.cleaningsMs.map(sayDay))}, ${isAgain ? 'each time ' : ''}it was back by ${sayNtu(sign.riseNtu)} NTU after ${sayDays(sign.afterDays)}${noise}: a film takes weeks`,
      }
    }
    case 'dark_response':
      return {
        cause: 'stray_light',
        odds: 0,
        text: `with the light off it read ${sayNtu(sign.ntu)} NTU on ${sayDay(sign.atMs)}: the error is in the light, not in the electronics`,
      }
    case 'film_levels':
      return {
        cause: 'fouling',
        odds: 0,
        text: `it reads ${sayNtu(sign.belowNtu)} NTU high in low water and ${sayNtu(-sign.aboveNtu)} NTU low in high water: a film adds an offset and takes gain`,
      }
    case 'lag':
      return {
        cause: 'response_mismatch',
        odds: sign.share >= 0.7 ? 9 : 2,
        text: `${String(Math.round(100 * sign.share))} % of its difference to the other unit goes with how fast the water changes: it is about ${String(Math.max(1, Math.round(sign.minutes)))} min late`,
      }
    case 'one_line':
      return {
        cause: 'sample_line',
        odds: 1,
        text: `all units of the point hang on sample line ${sign.sampleLine} and are off together: their agreement proves nothing`,
      }
    case 'near_range_end':
      return {
        cause: 'beyond_range',
        odds: 1,
        text: `the water stands near the end of its range, ${sayNtu(sign.rangeNtu)} NTU`,
      }
    case 'bubbles':
      return { cause: 'bubbles', odds: 1, text: 'bubbles raise many of its readings' }
    case 'standard_suspect':
      return {
        cause: 'standard_bad',
        odds: 3,
        text: `it was set on ${sayDay(sign.atMs)} by a reference that its own record speaks against`,
      }
    case 'uncovered':
      return {
        cause: 'zero_drift',
        odds: 0,
        text: `the cleaning of ${sayDay(sign.cleanedMs)} took off a film that had added ${sayNtu(sign.filmNtu)} NTU: it uncovered this error and did not cause it; before, the reading was right only because two errors cancelled`,
      }
  }
}

/** "half", "double", "a tenth": what an engineer looks for in a scaling. */
export function sayFactor(factor: number): string {
  if (Math.abs(factor - 0.5) < 1e-9) return 'exactly half'
  if (Math.abs(factor - 2) < 1e-9) return 'exactly double'
  return factor < 1
    ? `exactly 1/${String(Math.round(1 / factor))}`
    : `exactly ${String(Math.round(factor))} times themselves`
}

function sayDays(days: number): string {
  return days === 1 ? 'a day' : `${String(days)} days`
}
