/**
 * Something seen beside the grab samples and the other unit that speaks for one cause of an error and not for others.
 * Plain numbers; what each weighs, and its words, are the recommendation's.
 */
export type Sign =
  /** Loss of the light source's level since its best after the last adjustment. */
  | { readonly kind: 'light_source'; readonly lossPct: number }
  | { readonly kind: 'noisy'; readonly ratio: number }
  /** The error fell where the filter was backwashed. */
  | { readonly kind: 'washed_off'; readonly times: number; readonly dropNtu: number }
  /** The values changed at once by a factor that scaling makes and water does not. */
  | {
      readonly kind: 'exact_factor'
      readonly factor: number
      readonly sinceMs: number
      readonly beforeNtu: number
      readonly afterNtu: number
      readonly borneOut: boolean
    }
  /** The local display stood at another value than the record. */
  | {
      readonly kind: 'display_differs'
      readonly atMs: number
      readonly displayedNtu: number
      readonly recordedNtu: number
    }
  /** Higher by day than by night; `visitMs`: the work it began with, null where none is on record. */
  | {
      readonly kind: 'daylight'
      readonly dayNtu: number
      readonly nightNtu: number
      readonly days: number
      readonly sinceMs: number
      readonly visitMs: number | null
    }
  /** Each cleaning helped for some days and no longer. */
  | {
      readonly kind: 'returns_after_cleaning'
      readonly cleaningsMs: readonly number[]
      readonly afterDays: number
      readonly riseNtu: number
      /** Noise when it is back over noise after a cleaning; null where too little was seen. */
      readonly noiseRatio: number | null
    }
  /** With the light off it reads nothing: what it reads too much or too little is in the light. */
  | { readonly kind: 'dark_response'; readonly atMs: number; readonly ntu: number; readonly toleranceNtu: number }
  /** High in low water and low in high water. */
  | { readonly kind: 'film_levels'; readonly belowNtu: number; readonly aboveNtu: number }
  /** The difference to the other units goes with how fast the water changes. */
  | { readonly kind: 'lag'; readonly minutes: number; readonly share: number }
  /** All units of the point, on one sample line, are off together. */
  | { readonly kind: 'one_line'; readonly sampleLine: string }
  | { readonly kind: 'near_range_end'; readonly rangeNtu: number }
  | { readonly kind: 'bubbles' }
  /** A span or zero was set on a reference that the record itself speaks against. */
  | { readonly kind: 'standard_suspect'; readonly atMs: number }
  /** A cleaning took off a film that had hidden an error of the other sign. */
  | { readonly kind: 'uncovered'; readonly cleanedMs: number; readonly filmNtu: number }

export type SignKind = Sign['kind']
export type SignOf<K extends SignKind> = Extract<Sign, { readonly kind: K }>
