import { exp } from '../statistics/distributions.js'
import type { RandomStream } from './random.js'

/** Stationary AR(1) with a standard deviation and a correlation time; each call is one step on. */
export function autoregression(random: RandomStream, sd: number, correlationS: number, stepS: number): () => number {
  const phi = exp(-stepS / correlationS)
  const innovation = sd * Math.sqrt(1 - phi * phi)
  let value = sd * random.normal()
  return () => {
    const now = value
    value = phi * value + innovation * random.normal()
    return now
  }
}
