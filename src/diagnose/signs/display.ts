import { kept } from '../../model/rounding.js'
import type { SignOf } from './sign.js'

/** The local display as somebody noted it, beside the recorded value of the same minutes; null where none is on record. */
export interface DisplayState {
  noted: {
    readonly atMs: number
    readonly displayedNtu: number
    readonly recordedNtu: number
    readonly differs: boolean
  } | null
}

export function newDisplayState(): DisplayState {
  return { noted: null }
}

/** Share of the value by which display and record may differ: they are not read in the same second. */
const SAME = 0.1

/** @param spreadNtu of the readings; @param stepNtu smallest step of the record */
export function takeDisplay(
  state: DisplayState,
  atMs: number,
  displayedNtu: number,
  recordedNtu: number,
  { spreadNtu, stepNtu }: { readonly spreadNtu: number; readonly stepNtu: number },
): void {
  const allowed = Math.max(SAME * Math.abs(displayedNtu), 4 * spreadNtu, 2 * stepNtu)
  const differs = Math.abs(displayedNtu - recordedNtu) > allowed
  state.noted = { atMs, displayedNtu: kept(displayedNtu), recordedNtu: kept(recordedNtu), differs }
}

export function displaySign({ noted }: DisplayState): SignOf<'display_differs'> | undefined {
  if (noted?.differs !== true) return undefined
  const { atMs, displayedNtu, recordedNtu } = noted
  return { kind: 'display_differs', atMs, displayedNtu, recordedNtu }
}
