/** Something in a work record that does not fit the register, the calendar, the readings or itself. */
export interface Contradiction {
  readonly reference: 'standard' | 'zero_water' | 'work_record'
  readonly standard: string | undefined
  readonly text: string
  readonly ask: string
  /** What it takes from the record: its worth as proof, or the work itself, which is then not done. */
  readonly effect: 'no_proof' | 'not_done'
}
