import { ln } from '../statistics/distributions.js'

/** One stream of random numbers. Each purpose has its own, so that changing one fault leaves the rest as it was. */
export interface RandomStream {
  /** Uniform in [0, 1). */
  readonly uniform: () => number
  /** Uniform in [least, most). */
  readonly between: (least: number, most: number) => number
  /** Standard normal. */
  readonly normal: () => number
  /** Normal with the given standard deviation, drawn again until it lies within ±cut. */
  readonly cutNormal: (sd: number, cut: number) => number
  /** −1 or 1. */
  readonly sign: () => number
}

/**
 * Small fast counter generator (sfc32, C. Doty-Humphrey, PractRand, public domain) seeded from the text `seed:label`.
 * Normal numbers by the polar method (Marsaglia & Bray 1964, SIAM Review 6:260): √ and ln only, no table, no sine.
 */
export function randomStream(seed: number, label: string): RandomStream {
  const hash = hashText(`${seed}:${label}`)
  let a = hash()
  let b = hash()
  let c = hash()
  let counter = 1
  const next = (): number => {
    const sum = (((a + b) | 0) + counter) | 0
    counter = (counter + 1) | 0
    a = b ^ (b >>> 9)
    b = (c + (c << 3)) | 0
    c = (((c << 21) | (c >>> 11)) + sum) | 0
    return (sum >>> 0) / 4_294_967_296
  }
  for (let i = 0; i < 12; i++) next()

  let spare: number | undefined
  const normal = (): number => {
    if (spare !== undefined) {
      const kept = spare
      spare = undefined
      return kept
    }
    for (;;) {
      const u = 2 * next() - 1
      const v = 2 * next() - 1
      const s = u * u + v * v
      if (s > 0 && s < 1) {
        const factor = Math.sqrt((-2 * ln(s)) / s)
        spare = v * factor
        return u * factor
      }
    }
  }
  return {
    uniform: next,
    between: (least, most) => least + (most - least) * next(),
    normal,
    cutNormal: (sd, cut) => {
      for (;;) {
        const value = sd * normal()
        if (Math.abs(value) <= cut) return value
      }
    },
    sign: () => (next() < 0.5 ? -1 : 1),
  }
}

/** FNV-1a over the text, then a finaliser on each draw so that neighbouring labels share nothing. */
function hashText(text: string): () => number {
  let h = 0x811c9dc5
  for (let i = 0; i < text.length; i++) h = Math.imul(h ^ text.charCodeAt(i), 0x01000193)
  return () => {
    h = (h + 0x9e3779b9) | 0
    let z = h
    z = Math.imul(z ^ (z >>> 16), 0x85ebca6b)
    z = Math.imul(z ^ (z >>> 13), 0xc2b2ae35)
    return (z ^ (z >>> 16)) | 0
  }
}
