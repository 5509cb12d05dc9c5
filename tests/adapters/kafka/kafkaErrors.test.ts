import kafkajs from 'kafkajs'
import { describe, expect, it } from 'vitest'
import { lasting, sayKafkaError } from '../../../src/adapters/kafka/kafkaErrors.js'
import { LastingError } from '../../../src/adapters/kafka/partitionLog.js'

const { KafkaJSConnectionError, KafkaJSNonRetriableError, KafkaJSNumberOfRetriesExceeded, KafkaJSProtocolError } =
  kafkajs

describe('errors of the Kafka client', () => {
  it('are said in words, however often they are wrapped', () => {
    const socket = new KafkaJSConnectionError('Connection error: self-signed certificate in certificate chain', {
      broker: 'k1:9093',
      code: 'SELF_SIGNED_CERT_IN_CHAIN',
    })
    const wrapped = new KafkaJSNumberOfRetriesExceeded(socket, { retryCount: 5, retryTime: 1 })
    expect(sayKafkaError(wrapped, true)).toMatch(/^k1:9093 shows a certificate of an authority that is not trusted/)
    expect(lasting(wrapped)).toBe(wrapped)
  })

  it.each(['TOPIC_AUTHORIZATION_FAILED', 'GROUP_AUTHORIZATION_FAILED', 'TRANSACTIONAL_ID_AUTHORIZATION_FAILED'])(
    'say which permission is missing and pass for lasting: %s',
    type => {
      const refusal = new KafkaJSProtocolError({ type, code: 29, retriable: false, message: 'Not authorized' } as never)
      const found = lasting(Object.assign(new KafkaJSNonRetriableError(refusal), { cause: refusal }))
      expect(found).toBeInstanceOf(LastingError)
      expect((found as Error).message).toMatch(/^no permission .*: grant /)
    },
  )

  it('say which compression can be read', () => {
    const codec = Object.assign(new KafkaJSNonRetriableError('Snappy compression not implemented'), {
      name: 'KafkaJSNotImplemented',
    })
    expect((lasting(codec) as Error).message).toContain('only gzip or no compression can be read')
  })

  it('that pass by themselves are left as they are', () => {
    const fenced = new KafkaJSProtocolError({ type: 'INVALID_PRODUCER_EPOCH', code: 47, message: 'older' } as never)
    expect(lasting(fenced)).toBe(fenced)
    expect(sayKafkaError(fenced, false)).toBe('older')
  })
})
