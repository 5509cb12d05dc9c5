import { kept } from '../../model/rounding.js'
import { FILM_CROSSOVER_NTU } from '../hypothesis.js'
import { type ErrorValue, meanOf } from './series.js'
import type { SignOf } from './sign.js'

/** Either side over its standard uncertainty. */
const CLEAR = 2

/** A film adds an offset and takes gain: high where the water is low, low where it is high. @param values since it began */
export function filmLevelsSign(values: readonly ErrorValue[]): SignOf<'film_levels'> | undefined {
  const below = meanOf(values.filter(value => value.levelNtu < FILM_CROSSOVER_NTU))
  const above = meanOf(values.filter(value => value.levelNtu > FILM_CROSSOVER_NTU))
  if (below === undefined || above === undefined) return undefined
  if (below.ntu < CLEAR * below.uNtu || above.ntu > -CLEAR * above.uNtu) return undefined
  return { kind: 'film_levels', belowNtu: kept(below.ntu), aboveNtu: kept(above.ntu) }
}
