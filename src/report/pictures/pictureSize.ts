/** Pictures are drawn twice: for a desk or paper, and for a telephone, where shrinking would make text unreadable. */
export interface PictureSize {
  readonly kind: 'wide' | 'narrow'
  readonly width: number
  readonly height: number
  readonly fontSize: number
}

export const WIDE: PictureSize = { kind: 'wide', width: 760, height: 300, fontSize: 13 }
export const NARROW: PictureSize = { kind: 'narrow', width: 360, height: 280, fontSize: 13 }
