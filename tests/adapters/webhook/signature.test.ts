import { Buffer } from 'node:buffer'
import { createHash } from 'node:crypto'
import fc from 'fast-check'
import { describe, expect, it } from 'vitest'
import { readSigningKey, signatureHeaders } from '../../../src/adapters/webhook/signature.js'

/** Test "sign function works" of the libraries of the Standard Webhooks specification (libraries/javascript, 1.0.0). */
const PUBLISHED = {
  secret: 'whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw',
  id: 'msg_p5jXN8AQM9LWM0D4loKWxJek',
  atS: 1_614_265_330,
  body: '{"test": 2432232314}',
  signature: 'v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=',
}

describe('signature of a webhook', () => {
  it('is the published one', () => {
    const { secret, id, atS, body, signature } = PUBLISHED
    expect(signatureHeaders([readSigningKey(secret)!], id, atS, body)).toEqual({
      'webhook-id': id,
      'webhook-timestamp': '1614265330',
      'webhook-signature': signature,
    })
  })

  it('is there once for each key while a key is being changed, each as with that key alone', () => {
    const { secret, id, atS, body, signature } = PUBLISHED
    const newer = `whsec_${Buffer.alloc(32, 7).toString('base64')}`
    const alone = signatureHeaders([readSigningKey(newer)!], id, atS, body)['webhook-signature']!
    const both = signatureHeaders([readSigningKey(newer)!, readSigningKey(secret)!], id, atS, body)
    expect(both['webhook-signature']).toBe(`${alone} ${signature}`)
  })

  it('is the HMAC of RFC 2104 over SHA-256, whatever is signed', () => {
    // RFC 4231 §4.2 and §4.3, test cases 1 and 2, from memory and computed again.
    expect(hmac(Buffer.alloc(20, 0x0b), 'Hi There').toString('hex')).toBe(
      'b0344c61d8db38535ca8afceaf0bf12b881dc200c9833da726e9376c2e32cff7',
    )
    expect(hmac(Buffer.from('Jefe'), 'what do ya want for nothing?').toString('hex')).toBe(
      '5bdcc146bf60754e6a042426089575c75a003f089d2739839dec58b964ec3843',
    )
    const key = fc.uint8Array({ minLength: 24, maxLength: 64 })
    fc.assert(
      fc.property(key, fc.uuid(), fc.nat(), fc.string({ unit: 'grapheme' }), (bytes, id, atS, body) => {
        const secret = `whsec_${Buffer.from(bytes).toString('base64')}`
        const headers = signatureHeaders([readSigningKey(secret)!], id, atS, body)
        const expected = hmac(Buffer.from(bytes), `${id}.${atS}.${body}`).toString('base64')
        expect(headers['webhook-signature']).toBe(`v1,${expected}`)
      }),
      { seed: 7, numRuns: 200 },
    )
  })

  it.each([
    ['no prefix', 'MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw'],
    ['another prefix', 'whsk_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw'],
    ['23 bytes', `whsec_${Buffer.alloc(23, 1).toString('base64')}`],
    ['65 bytes', `whsec_${Buffer.alloc(65, 1).toString('base64')}`],
    ['a letter too few', 'whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaS'],
    ['the alphabet of URLs', `whsec_${Buffer.alloc(24, 0xff).toString('base64url')}`],
    ['a line end', 'whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw\n'],
    ['nothing', ''],
  ])('takes no key with %s', (_what, text) => {
    expect(readSigningKey(text)).toBeUndefined()
  })
})

/** RFC 2104, written out, so that the same library call is not on both sides. */
function hmac(key: Buffer, text: string): Buffer {
  const block = Buffer.alloc(64)
  key.copy(block)
  const sha256 = (...parts: Buffer[]) => createHash('sha256').update(Buffer.concat(parts)).digest()
  const padded = (pad: number) => Buffer.from(block.map(byte => byte ^ pad))
  return sha256(padded(0x5c), sha256(padded(0x36), Buffer.from(text)))
}
