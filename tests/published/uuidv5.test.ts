import { createHash } from 'node:crypto'
import fc from 'fast-check'
import { v5 } from 'uuid'
import { describe, expect, it } from 'vitest'
import { eventId, plantNamespace, recommendationId } from '../../src/model/identity.js'

/** RFC 9562 §5.5 and appendix A.4; rows F8 as collected for this project. */
const DNS = '6ba7b810-9dad-11d1-80b4-00c04fd430c8'
const URL_NAMESPACE = '6ba7b811-9dad-11d1-80b4-00c04fd430c8'

const F8 = [
  { name: 'www.example.com', namespace: DNS, uuid: '2ed6657d-e927-568b-95e1-2665a8aea6a2', source: 'RFC 9562 A.4' },
  {
    name: 'python.org',
    namespace: DNS,
    uuid: '886313e1-3b8a-5372-9b90-0c9aee199e5d',
    source: 'Python documentation, from memory, recomputed',
  },
  { name: '', namespace: DNS, uuid: '4ebd0208-8328-5d69-8c44-ec50939c0967', source: 'own computation' },
  {
    name: 'https://example.com/',
    namespace: URL_NAMESPACE,
    uuid: 'dd2c1780-811a-5296-81c5-178a0ef488bc',
    source: 'own computation',
  },
] as const

/** RFC 9562 §5.5, step by step: SHA-1 of namespace octets and name, version 5, variant 10. */
function byTheStandard(name: string, namespace: string): string {
  const octets = createHash('sha1')
    .update(Buffer.from(namespace.replaceAll('-', ''), 'hex'))
    .update(name, 'utf8')
    .digest()
    .subarray(0, 16)
  octets[6] = (octets[6]! & 0x0f) | 0x50
  octets[8] = (octets[8]! & 0x3f) | 0x80
  const hex = octets.toString('hex')
  return [hex.slice(0, 8), hex.slice(8, 12), hex.slice(12, 16), hex.slice(16, 20), hex.slice(20)].join('-')
}

describe('UUIDv5', () => {
  it.each(F8)('F8: "$name" gives $uuid ($source)', ({ name, namespace, uuid }) => {
    expect(v5(name, namespace)).toBe(uuid)
    expect(byTheStandard(name, namespace)).toBe(uuid)
  })

  it('F8: is not version 3, which hashes otherwise', () => {
    expect(v5('www.example.com', DNS)).not.toBe('5df41881-3aed-3515-88a7-2f4a814cf09e')
  })

  it('makes the ids of recommendations and events within the namespace of their plant', () => {
    const namespace = plantNamespace('hollin-weir')
    expect(recommendationId('hollin-weir', 'FE3-B', 2)).toBe(byTheStandard('recommendation:FE3-B:2', namespace))
    expect(eventId('hollin-weir', 'FE3-B', 'analyzer.status', 7)).toBe(
      byTheStandard('event:FE3-B:analyzer.status:7', namespace),
    )
  })

  it('gives every id version 5 and variant 10, and keeps plants apart', () => {
    fc.assert(
      fc.property(fc.string(), fc.string(), fc.nat(), (plant, target, counter) => {
        const id = recommendationId(plant, target, counter)
        expect(id).toMatch(/^[0-9a-f]{8}-[0-9a-f]{4}-5[0-9a-f]{3}-[89ab][0-9a-f]{3}-[0-9a-f]{12}$/)
        expect(recommendationId(`${plant}2`, target, counter)).not.toBe(id)
        expect(recommendationId(plant, target, counter + 1)).not.toBe(id)
      }),
      { seed: 9562, numRuns: 200 },
    )
  })
})
