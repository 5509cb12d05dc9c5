import type { Sign } from '../diagnose/signs/sign.js'
import type { WorkAction } from '../model/messages.js'

/** What is known besides the values when causes are ranked and an action is chosen. */
export interface DecisionContext {
  readonly signs: readonly Sign[]
  /** Work that was accepted and did not help, newest last. */
  readonly failed: readonly WorkAction[]
  /** The last zero made a right analyzer wrong. */
  readonly zeroWaterSuspect: boolean
  /** Earlier changes of span that a standard showed when it was set, fractions, newest last. */
  readonly earlierSpans: readonly number[]
  /** A light source was renewed and no primary calibration followed. */
  readonly needsPrimary: boolean
  /** Work that all units of the point had together; null where there is none. */
  readonly commonWork?: string | null
}
