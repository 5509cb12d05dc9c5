/** A seeded source of numbers for streams of messages: mulberry32, and the sum of twelve uniforms for near-normal noise. */
export interface Random {
  /** Uniform in [0, 1). */
  readonly uniform: () => number
  /** Mean 0, standard deviation 1, within ±6. */
  readonly normal: () => number
  /** Whole number in [0, below). */
  readonly below: (below: number) => number
}

export function seeded(seed: number): Random {
  let state = seed >>> 0
  const uniform = (): number => {
    state = (state + 0x6d2b79f5) >>> 0
    let mixed = Math.imul(state ^ (state >>> 15), state | 1)
    mixed ^= mixed + Math.imul(mixed ^ (mixed >>> 7), mixed | 61)
    return ((mixed ^ (mixed >>> 14)) >>> 0) / 4_294_967_296
  }
  return {
    uniform,
    normal: () => {
      let sum = -6
      for (let i = 0; i < 12; i++) sum += uniform()
      return sum
    },
    below: below => Math.floor(uniform() * below),
  }
}
