/**
 * Units a reading or a laboratory result may carry. NTU (white light) and FNU (near infrared) are different
 * methods that agree only on formazin; FAU is attenuation. 1 mNTU = 0.001 NTU.
 */
export const UNITS = ['NTU', 'mNTU', 'FNU', 'mFNU', 'FAU'] as const
export type Unit = (typeof UNITS)[number]

/** What is measured, apart from the scale it is written in. */
export const METHODS = ['NTU', 'FNU', 'FAU'] as const
export type Method = (typeof METHODS)[number]

export function methodOf(unit: Unit): Method {
  if (unit === 'mNTU') return 'NTU'
  if (unit === 'mFNU') return 'FNU'
  return unit
}

/** Value in the whole unit of its method: 31 mNTU is 0.031 NTU. */
export function toWholeUnit(value: number, unit: Unit): number {
  return unit === 'mNTU' || unit === 'mFNU' ? value / 1_000 : value
}
