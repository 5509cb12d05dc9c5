import type { Line } from '../model/vocabulary.js'
import type { Correction } from '../recommend/correction.js'
import { newStandardsKnown, type StandardsKnown } from '../recommend/standards.js'
import type { Visit } from '../recommend/visit.js'

/** What work records leave behind at one unit, beside the charts they restart. Plain data. */
export interface WorkFold {
  /** Serial of the instrument since an exchange; null while the register's holds. */
  serial: string | null
  readonly standards: StandardsKnown
  /** The newest visit: the next record joins it where it belongs to it. */
  visit: Visit | null
  /** Corrections of the record that visits support, newest last. */
  corrections: Correction[]
  /** The last request whose check found the analyzer within its limit: the same evidence must not ask again at once. */
  foundWithin: FoundWithin | null
}

export interface FoundWithin {
  readonly atMs: number
  /** Size the request was about, signed, and the lines that signalled. */
  readonly ofTolerance: number
  readonly lines: readonly Line[]
}

export function newWorkFold(): WorkFold {
  return { serial: null, standards: newStandardsKnown(), visit: null, corrections: [], foundWithin: null }
}
