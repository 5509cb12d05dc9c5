import { combinedStandardUncertainty } from '../statistics/propagation.js'

/** A value with its standard uncertainty, both in the unit the field names. */
export interface Known {
  readonly value: number
  readonly standardUncertainty: number
}

/** A measured volume of stock, filled up to the mark of a flask with water that is never quite clear. */
export interface Dilution {
  readonly stockNtu: Known
  readonly waterNtu: Known
  readonly takenMl: Known
  readonly flaskMl: Known
}

export type DilutionInput = 'stock' | 'water' | 'pipette' | 'flask'

export interface Diluted {
  readonly valueNtu: number
  readonly standardUncertaintyNtu: number
  /** What each input brings, NTU, and its share of the variance; the shares add up to 1. */
  readonly budget: readonly { readonly input: DilutionInput; readonly ntu: number; readonly share: number }[]
}

/**
 * Value and standard uncertainty of a diluted standard: T = W + (S − W)·v/V, for suspensions whose turbidity goes with
 * their concentration, as that of formazin does. Uncertainty by the law of propagation, JCGM 100:2008, 5.1.2. Both
 * volumes are taken at one temperature, whose effect then cancels in v/V.
 */
export function dilute({ stockNtu, waterNtu, takenMl, flaskMl }: Dilution): Diluted {
  const part = takenMl.value / flaskMl.value
  const rise = stockNtu.value - waterNtu.value
  const inputs = [
    { input: 'stock', sensitivity: part, ...stockNtu },
    { input: 'water', sensitivity: 1 - part, ...waterNtu },
    { input: 'pipette', sensitivity: rise / flaskMl.value, ...takenMl },
    { input: 'flask', sensitivity: (-rise * part) / flaskMl.value, ...flaskMl },
  ] as const
  const standardUncertaintyNtu = combinedStandardUncertainty(inputs)
  return {
    valueNtu: waterNtu.value + rise * part,
    standardUncertaintyNtu,
    budget: inputs.map(({ input, sensitivity, standardUncertainty }) => {
      const ntu = Math.abs(sensitivity) * standardUncertainty
      const ofAll = standardUncertaintyNtu === 0 ? 0 : ntu / standardUncertaintyNtu
      return { input, ntu, share: ofAll * ofAll }
    }),
  }
}

/** Volume of stock that makes a wanted value in a flask, mL; undefined where no volume does. */
export function volumeToTake(
  targetNtu: number,
  { stockNtu, waterNtu, flaskMl }: Readonly<Record<'stockNtu' | 'waterNtu' | 'flaskMl', number>>,
): number | undefined {
  if (targetNtu <= waterNtu || targetNtu >= stockNtu) return undefined
  return (flaskMl * (targetNtu - waterNtu)) / (stockNtu - waterNtu)
}
