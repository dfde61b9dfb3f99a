// A form that a passkey answers: the browser is asked with the options that the form holds, and its answer goes into the form.
import { browserSupportsWebAuthn, startAuthentication, startRegistration } from './vendor/simplewebauthn.js';

const WORDS = {
  NotAllowedError: 'The passkey was not used: it was put off, or took too long. Try again.',
  InvalidStateError: 'This device keeps a passkey for you already.',
  SecurityError: 'The browser takes no passkeys at this address.',
};

for (const form of document.querySelectorAll('form[data-passkey]')) {
  const words = form.querySelector('[data-passkey-words]');
  const say = (text) => {
    words.textContent = text;
    words.hidden = text === '';
  };
  if (!browserSupportsWebAuthn()) {
    say('This browser knows no passkeys, or the connection is not secure.');
    form.querySelector('button:not([type=button])').disabled = true;
    continue;
  }
  let isAsking = false;
  form.addEventListener('submit', async (event) => {
    const answer = form.elements.namedItem('answer');
    if (answer.value !== '') return;
    event.preventDefault();
    event.stopImmediatePropagation();
    if (isAsking) return;
    isAsking = true;
    say('');
    try {
      const optionsJSON = JSON.parse(form.dataset.options);
      const given =
        form.dataset.passkey === 'make'
          ? await startRegistration({ optionsJSON })
          : await startAuthentication({ optionsJSON });
      answer.value = JSON.stringify(given);
      form.submit();
    } catch (error) {
      say(WORDS[error.name] ?? 'The passkey could not be used. Try again, or use a code.');
    } finally {
      isAsking = false;
    }
  });
}
