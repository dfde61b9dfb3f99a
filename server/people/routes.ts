import { apiRoutes, get, pageRoutes, post } from '../http/routes.ts';
import { listAudit } from './api/audit.ts';
import { listEverybody } from './api/people.ts';
import * as account from './pages/account.ts';
import * as afterRestore from './pages/afterRestore.ts';
import { showAudit } from './pages/audit.ts';
import { enterBenchDevice, showBenchDoor } from './pages/benchDevice.ts';
import { setUp, showFirstRun } from './pages/firstRun.ts';
import { acceptLink, showLink } from './pages/invitation.ts';
import * as everybody from './pages/list.ts';
import * as ownStep from './pages/ownSecondStep.ts';
import * as person from './pages/person.ts';
import * as second from './pages/secondStep.ts';
import * as door from './pages/signIn.ts';
import * as tokens from './pages/tokens.ts';

export const pages = pageRoutes([
  get('/first-run', 'anyone', showFirstRun),
  post('/first-run', 'anyone', setUp),
  get('/sign-in', 'anyone', door.showSignIn),
  post('/sign-in', 'anyone', door.enter),
  post('/sign-out', 'anyone', door.leave),
  get('/invitation/:token', 'anyone', showLink),
  post('/invitation/:token', 'anyone', acceptLink),
  get('/bench-device', 'anyone', showBenchDoor),
  post('/bench-device', 'anyone', enterBenchDevice),
  get('/second-step', 'anyone', second.showSecondStep),
  post('/second-step', 'anyone', second.takeCode),
  post('/second-step/passkey', 'anyone', second.takePasskey),
  get('/after-restore', 'anyone', afterRestore.showDoor),
  post('/after-restore', 'anyone', afterRestore.openStudio),

  get('/account', 'look', account.showAccount),
  post('/account/passphrase', 'look', account.changeOwnPassphrase),
  post('/account/sign-ins/:key/revocation', 'look', account.endOwnSignIn),
  post('/account/other-sign-ins/revocation', 'look', account.endOtherSignIns),
  get('/account/second-step', 'look', ownStep.showOwnStep),
  post('/account/second-step/opening', 'look', ownStep.openOwnStep),
  post('/account/second-step/passkeys', 'look', ownStep.addOwnPasskey),
  post('/account/second-step/passkeys/:id/removal', 'look', ownStep.takePasskeyAway),
  post('/account/second-step/code-app', 'look', ownStep.beginApp),
  post('/account/second-step/code-app/confirmation', 'look', ownStep.confirmApp),
  post('/account/second-step/code-app/removal', 'look', ownStep.takeAppAway),
  post('/account/second-step/recovery-codes', 'look', ownStep.renewCodes),

  get('/people', 'own', everybody.showEverybody),
  post('/people/invitations', 'own', everybody.inviteSomebody),
  post('/people/invitations/:id/revocation', 'own', everybody.takeInvitationBack),
  post('/people/bench-devices', 'own', everybody.addDevice),
  post('/people/second-step', 'own', everybody.demandSecondStep),
  get('/people/after-restore', 'own', afterRestore.showStandings),
  post('/people/after-restore/settlement', 'own', afterRestore.settle),
  get('/people/:id', 'own', person.showPerson),
  post('/people/:id', 'own', person.savePerson),
  post('/people/:id/standing', 'own', person.changeStanding),
  post('/people/:id/passphrase-link', 'own', person.makePassphraseLink),
  post('/people/:id/bench-code', 'own', person.makeBenchCode),
  post('/people/:id/second-step/removal', 'own', person.endSecondStep),
  post('/people/:id/sign-ins/:key/revocation', 'own', person.endSignIn),
  get('/audit', 'own', showAudit),

  get('/settings/tokens', 'own', tokens.showTokens),
  post('/settings/tokens', 'own', tokens.addToken),
  post('/settings/tokens/:id/revocation', 'own', tokens.endToken),
]);

export const api = apiRoutes('People', [get('/people', 'own', listEverybody), get('/audit-entries', 'own', listAudit)]);
