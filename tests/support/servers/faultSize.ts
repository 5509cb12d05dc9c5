/** How many times a test of faults kills what it tests: few by itself, `TURBIDRIFT_FAULT_KILLS` of them in the full run. */
export const KILLS = Number(process.env.TURBIDRIFT_FAULT_KILLS ?? 10)

if (!Number.isInteger(KILLS) || KILLS < 1) {
  throw new Error(`TURBIDRIFT_FAULT_KILLS=${process.env.TURBIDRIFT_FAULT_KILLS ?? ''} is not a whole number from 1`)
}
